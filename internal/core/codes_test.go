package core_test

import (
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"tagalong/internal/words"
)

// Every code the core refuses with has an entry in the message files.
func TestEveryRefusalHasASentence(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	literal := regexp.MustCompile(`refuse\("([a-z-]+)"`)
	ofFacts := regexp.MustCompile(`\w+:\s+"([a-z]+-[a-z-]+)"`) // the tables of conditions.go
	n := 0
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		hits := literal.FindAllStringSubmatch(string(text), -1)
		if f == "conditions.go" {
			hits = append(hits, ofFacts.FindAllStringSubmatch(string(text), -1)...)
		}
		for _, hit := range hits {
			n++
			if code := hit[1]; !words.Has(code) {
				t.Errorf("%s refuses with %q, which has no sentence", f, code)
			}
		}
	}
	if n < 100 {
		t.Fatalf("only %d refusals found: the search is broken", n)
	}
}
