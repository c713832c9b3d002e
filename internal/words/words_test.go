package words

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

func TestEveryEntrySaysWhatHappenedAndWhatToDo(t *testing.T) {
	if len(Codes()) < 50 {
		t.Fatalf("only %d codes have an entry", len(Codes()))
	}
	kebab := regexp.MustCompile(`^[a-z]+(-[a-z]+)*$`)
	for _, code := range Codes() {
		m, _ := Entry(code)
		if !kebab.MatchString(code) {
			t.Errorf("%s: a code is words in lower case, joined by dashes", code)
		}
		if m.Sentence == "" || m.Remedy == "" {
			t.Errorf("%s lacks its sentence or its remedy", code)
		}
		for _, text := range []string{m.Sentence, m.Remedy} {
			if !strings.HasSuffix(text, ".") && !strings.HasSuffix(text, "?") && !strings.HasSuffix(text, "}") {
				t.Errorf("%s: %q does not end as a sentence", code, text)
			}
		}
	}
}

func TestEveryBraceIsAParameter(t *testing.T) {
	for _, code := range Codes() {
		m, _ := Entry(code)
		for _, text := range []string{m.Sentence, m.Why, m.Remedy, m.Who} {
			if rest := parameter.ReplaceAllString(text, ""); strings.ContainsAny(rest, "{}") {
				t.Errorf("%s: stray brace in %q", code, text)
			}
		}
	}
}

func TestRefusalPutsParametersIn(t *testing.T) {
	got := Refusal("code-wrong-kind", map[string]string{"input": "P4K7 M2QX", "got": "pallet", "want": "unit build"})
	if want := "P4K7 M2QX is the code of a pallet, and a unit build is needed here."; got.Title != want {
		t.Errorf("got %q, want %q", got.Title, want)
	}
}

func TestMissingParameterShows(t *testing.T) {
	if got := fill("Wait {wait}.", nil); got != "Wait (not known)." {
		t.Errorf("got %q", got)
	}
	if got := fill("The {fact} {face} is missing.", map[string]string{"fact": "cut", "face": ""}); got != "The cut is missing." {
		t.Errorf("an empty parameter leaves a gap: %q", got)
	}
}

func TestUnknownCodeNamesItself(t *testing.T) {
	if got := Refusal("no-such-rule", nil); !strings.Contains(got.Title, "no-such-rule") || got.Remedy == "" {
		t.Errorf("got %+v", got)
	}
	if Has("no-such-rule") {
		t.Error("has an entry for no-such-rule")
	}
}

func TestCautionsDeferToTheSite(t *testing.T) {
	if len(cautions) == 0 {
		t.Fatal("no cautions")
	}
	for key, text := range cautions {
		if !strings.Contains(text, "Site rules and local codes come first") {
			t.Errorf("the caution %s does not defer to site rules and local codes", key)
		}
	}
	if Caution("no-such-key") != "" {
		t.Error("a key without a caution has one")
	}
}

func TestDocumentIsFresh(t *testing.T) {
	kept, err := os.ReadFile("REFUSALS.md")
	if err != nil {
		t.Fatal(err)
	}
	if string(kept) != Document() {
		t.Error("REFUSALS.md is not what the message files say: run go generate ./internal/words")
	}
}

// Words that agree with a count never stand in for a parameter of their name.
func TestAgreementLeavesParametersAlone(t *testing.T) {
	if got := Refusal("pin-wait", map[string]string{"name": "A. Person", "wait": "2 minutes"}); !strings.Contains(got.Title, "2 minutes") {
		t.Errorf("says %q", got.Title)
	}
	one := Refusal("edges-not-rounded", map[string]string{"count": "1", "name": "door leaf, left", "face": ""})
	if want := "1 left door leaf may not go on: its edges were never rounded."; one.Title != want {
		t.Errorf("says %q, want %q", one.Title, want)
	}
}
