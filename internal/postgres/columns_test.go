package postgres

import (
	"reflect"
	"testing"
)

// TestArrayText: what PostgreSQL's manual, 8.15.6 "Array Input and Output
// Syntax", says of quotes and backslashes in elements.
func TestArrayText(t *testing.T) {
	for want, list := range map[string][]string{
		`{}`:                        nil,
		`{"a","b c"}`:               {"a", "b c"},
		`{"","null"}`:               {"", "null"},
		`{"say \"so\"","back\\up"}`: {`say "so"`, `back\up`},
		`{"a,b","{c}"}`:             {"a,b", "{c}"},
	} {
		if got := arrayText(reflect.ValueOf(list)); got != want {
			t.Errorf("%q: %s, want %s", list, got, want)
		}
	}
}
