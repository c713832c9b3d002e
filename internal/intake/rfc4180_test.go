package intake

import (
	"bytes"
	"encoding/json"
	"os"
	"slices"
	"strings"
	"testing"
)

// TestRFC4180 runs the cases of testdata/checks/csv.json, each with its source.
func TestRFC4180(t *testing.T) {
	data, err := os.ReadFile("../../testdata/checks/csv.json")
	if err != nil {
		t.Fatal(err)
	}
	var cases []struct {
		ID, Topic, Source string
		Input             struct {
			Text   string
			Fields []string
		}
		Expect struct {
			Records  [][]string
			Header   []string
			Refused  bool
			OneValid string   `json:"one_valid_text"`
			First    []string `json:"first_characters_to_neutralise"`
		}
	}
	if err := json.Unmarshal(data, &cases); err != nil {
		t.Fatal(err)
	}
	if len(cases) != 12 {
		t.Fatalf("%d cases, want 12", len(cases))
	}
	for _, c := range cases {
		t.Run(c.ID, func(t *testing.T) {
			records, faults := scanned(c.Input.Text)
			switch {
			case c.Expect.Records != nil:
				if len(faults) > 0 || !slices.EqualFunc(records, c.Expect.Records, slices.Equal) {
					t.Errorf("%s: got %q and %v, want %q", c.Source, records, faults, c.Expect.Records)
				}
			case c.Expect.Header != nil:
				if len(faults) > 0 || !slices.Equal(records[0], c.Expect.Header) {
					t.Errorf("%s: got %q and %v, want the header %q", c.Source, records, faults, c.Expect.Header)
				}
			case c.Expect.Refused:
				if len(faults) == 0 {
					t.Errorf("%s: read as %q, want a refusal", c.Source, records)
				}
			case c.Expect.First != nil:
				neutralises(t, c.Input.Fields, c.Expect.First)
			default:
				var b bytes.Buffer
				for i, f := range c.Input.Fields {
					if i > 0 {
						b.WriteByte(',')
					}
					writeField(&b, f)
				}
				if got, faults := scanned(b.String()); len(faults) > 0 || !slices.Equal(got[0], c.Input.Fields) {
					t.Errorf("%s: %q reads back as %q and %v", c.Source, b.String(), got, faults)
				}
				if got, faults := scanned(c.Expect.OneValid); len(faults) > 0 || !slices.Equal(got[0], c.Input.Fields) {
					t.Errorf("%s: %q reads as %q and %v", c.Source, c.Expect.OneValid, got, faults)
				}
			}
		})
	}
}

// scanned reads a text as the importer does, with its rule of equal counts.
func scanned(text string) ([][]string, []Fault) {
	var out [][]string
	var faults []Fault
	records, _ := scan("x.csv", []byte(text), func(f Fault) { faults = append(faults, f) })
	for _, r := range records {
		if r.count != records[0].count {
			faults = append(faults, Fault{Line: r.line})
		}
		var fields []string
		for _, c := range r.cells {
			fields = append(fields, c.text)
		}
		out = append(out, fields)
	}
	return out, faults
}

// neutralises holds the list of characters against ours. NUL is refused on the
// way in and out, so nothing starts with it.
func neutralises(t *testing.T, fields, first []string) {
	t.Helper()
	for _, c := range first {
		c = map[string]string{"tab": "\t", "NUL": "\x00"}[c] + strings.Trim(c, "tabNUL")
		if c == "\x00" {
			if _, faults := scanned("a\x00"); len(faults) == 0 {
				t.Error("a NUL was read")
			}
			continue
		}
		if got := neutral(c + "1"); got != "'"+c+"1" {
			t.Errorf("%q is written as %q", c+"1", got)
		}
	}
	for _, f := range fields {
		if got := plain(neutral(f)); got != f {
			t.Errorf("%q comes back as %q", f, got)
		}
	}
	if neutral("plain") != "plain" || neutral("it's") != "it's" || neutral("'tis") != "'tis" {
		t.Error("a harmless text was changed")
	}
}

// TestPhysicalLines counts lines as an editor does, through quoted breaks.
func TestPhysicalLines(t *testing.T) {
	records, _ := scan("x.csv", []byte("a,b\r\n\"one\r\ntwo\",\"three\nfour\"\r\nc,d\r\n"), func(f Fault) { t.Error(f) })
	var lines []int
	for _, r := range records {
		lines = append(lines, r.line)
	}
	if want := []int{1, 2, 5}; !slices.Equal(lines, want) || records[1].cells[1].line != 3 {
		t.Errorf("records on lines %v, second field on %d; want %v and 3", lines, records[1].cells[1].line, want)
	}
}

// TestReadmeDescribesEveryColumn keeps the description of the files whole: each
// column with its kind and whether it must be there.
func TestReadmeDescribesEveryColumn(t *testing.T) {
	data, err := os.ReadFile("../../testdata/samples/README.md")
	if err != nil {
		t.Fatal(err)
	}
	words := map[kind]string{key: "key", text: "text", word: "word", list: "list", whole: "whole", decimal: "decimal", day: "day", yesNo: "yes/no", points: "points"}
	for _, s := range specs {
		_, section, ok := strings.Cut(string(data), "\n## "+s.file+" ")
		if !ok {
			t.Errorf("no section on %s", s.file)
			continue
		}
		section, _, _ = strings.Cut(section, "\n## ")
		if got := strings.Count(section, "\n| "); got != len(s.columns)+1 {
			t.Errorf("%s: %d lines on columns, want %d", s.file, got-1, len(s.columns))
		}
		for _, c := range s.columns {
			must := ""
			if c.must {
				must = "must"
			}
			if want := strings.ReplaceAll("\n| "+c.name+" | "+words[c.kind]+" | "+must+" | ", "|  |", "| |"); !strings.Contains(section, want) {
				t.Errorf("%s: no line %q", s.file, strings.TrimSpace(want))
			}
		}
	}
}
