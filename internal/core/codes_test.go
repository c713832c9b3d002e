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
	literal := regexp.MustCompile(`refuse\("([a-z-]+)"|:\s+"((?:not|already|still|hardware|edges|welds|hold|coat|kit|goods|material|nothing)-[a-z-]+)"`)
	n := 0
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, hit := range literal.FindAllStringSubmatch(string(text), -1) {
			n++
			if code := hit[1] + hit[2]; !words.Has(code) {
				t.Errorf("%s refuses with %q, which has no sentence", f, code)
			}
		}
	}
	if n < 100 {
		t.Fatalf("only %d refusals found: the search is broken", n)
	}
}
