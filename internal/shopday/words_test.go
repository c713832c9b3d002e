package shopday

import (
	"os"
	"strings"
	"testing"

	"tagalong/internal/words"
)

// mustRefuse is what this shop has to refuse, by the code each refusal has for
// good: tablets, scripts and other shops' programs know them.
var mustRefuse = map[string][]string{
	"coating a lot whose edges aren't rounded":       {"edges-not-rounded"},
	"pretreating or coating past an unreleased weld": {"hold-not-released"},
	"a hold released by its welder":                  {"maker-may-not-release"},
	"wrong station":                                  {"wrong-station", "nothing-to-do"},
	"skipped step":                                   {"step-skipped"},
	"step done twice":                                {"step-done"},
	"unknown, mistyped or foreign code":              {"pallet-unknown", "code-unknown", "code-mistyped", "code-foreign", "code-wrong-kind"},
	"wrong PIN":                                      {"pin-wrong", "pin-wait"},
	"revoked badge":                                  {"badge-revoked"},
	"lapsed qualification":                           {"qualification-lapsed"},
	"unenrolled tablet":                              {"unenrolled-tablet", "tablet-revoked"},
	"a command whose own numbers don't sum":          {"numbers-dont-sum", "nest-numbers"},
	"the same command id with another body":          {"id-used"},
	"a stale print":                                  {"print-stale"},
}

// TestEveryRefusalStandsInTheTable: the table people and programs read has each
// code once, with a sentence and what to do next.
func TestEveryRefusalStandsInTheTable(t *testing.T) {
	text, err := os.ReadFile("../words/REFUSALS.md")
	must(t, err)
	rows := map[string][]string{}
	for line := range strings.Lines(string(text)) {
		cells := strings.Split(strings.Trim(strings.TrimSpace(line), "|"), "|")
		if len(cells) != 3 {
			continue
		}
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		if _, twice := rows[cells[0]]; twice {
			t.Errorf("%s stands in the table twice", cells[0])
		}
		rows[cells[0]] = cells[1:]
	}
	for what, codes := range mustRefuse {
		for _, code := range codes {
			row, ok := rows[code]
			if !ok {
				t.Errorf("%s: %s is not in the table", what, code)
				continue
			}
			m, _ := words.Entry(code)
			if row[0] == "" || row[1] == "" || row[0] != m.Sentence || row[1] != m.Remedy {
				t.Errorf("%s: the table says %q and %q, the messages %q and %q", code, row[0], row[1], m.Sentence, m.Remedy)
			}
		}
	}
}
