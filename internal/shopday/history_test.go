package shopday

import (
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"reflect"
	"slices"
	"strings"

	"tagalong/internal/app"
)

// entry is one line of a history as a person would write it by hand: what is
// random is a name, what is a time is a time of the day.
type entry struct {
	At       string   `json:"at"`
	Kind     string   `json:"kind"`
	Station  string   `json:"station,omitempty"`
	Stage    string   `json:"stage,omitempty"`
	Who      []string `json:"who,omitempty"`     // "Osric Dunmow made"
	Lots     []string `json:"lots,omitempty"`    // "2 SK-1200 for O-5101"
	Pallets  []string `json:"pallets,omitempty"` // by name, in order
	About    string   `json:"about,omitempty"`   // unit, truck, problem, nest, or where it goes
	Batches  []string `json:"batches,omitempty"`
	Readings []string `json:"readings,omitempty"` // those measured
	Print    int      `json:"print,omitempty"`
	Note     string   `json:"note,omitempty"`
	Code     string   `json:"code,omitempty"` // of a refusal
}

// written reads the histories written by hand.
func (d *day) written() map[string][]entry {
	d.t.Helper()
	text, err := os.ReadFile("../../testdata/shopday/history.json")
	must(d.t, err)
	return decoded[map[string][]entry](d.t, string(text))
}

// history asks for a history as a script does, as JSON.
func (d *day) history(path string) app.HistoryPage {
	d.t.Helper()
	got := d.at("STORE-1").send(http.MethodGet, "/history/"+path+".json", "", "")
	if got.StatusCode != http.StatusOK {
		d.t.Fatalf("history %s: %d %s", path, got.StatusCode, got.body)
	}
	return decoded[app.HistoryPage](d.t, got.body)
}

// told is a history in the words of the one written by hand.
func (d *day) told(h app.HistoryPage) []entry {
	d.t.Helper()
	var out []entry
	for _, x := range h.Events {
		if !strings.HasSuffix(x.What, ".") || strings.Contains(x.What, "not known") || !x.Happened.Equal(x.Recorded) {
			d.t.Errorf("%s says %q, happened %s, recorded %s", x.Event, x.What, x.Happened, x.Recorded)
		}
		e := entry{
			At: x.Happened.Format("15:04"), Kind: string(x.Kind), Station: string(x.Station), Stage: string(x.Stage),
			About: d.name(x.Ref), Print: x.Print, Note: x.Note,
		}
		if x.Print > 0 {
			e.Note = ""
		}
		for _, s := range x.Signed {
			e.Who = append(e.Who, s.Name+" "+string(s.Meaning))
		}
		for _, l := range x.Lots {
			e.Lots = append(e.Lots, counted(l))
		}
		for _, p := range x.Pallets {
			e.Pallets = append(e.Pallets, d.name(string(p)))
		}
		slices.Sort(e.Pallets)
		for _, b := range x.Inputs {
			e.Batches = append(e.Batches, strings.TrimSpace(b.Batch+" "+b.Colour))
		}
		for _, r := range x.Readings {
			if r.Value != nil {
				e.Readings = append(e.Readings, fmt.Sprintf("%s %v %s by %s", r.Characteristic, *r.Value, r.Unit, r.Instrument))
			}
		}
		out = append(out, e)
	}
	return out
}

func counted(l app.HistoryCount) string {
	out := fmt.Sprintf("%d %s", l.Good, l.Item)
	if l.Order != "" {
		out += " for " + l.Order
	}
	if l.Bad > 0 {
		out += fmt.Sprintf(", %d not good", l.Bad)
	}
	if l.NotDone > 0 {
		out += fmt.Sprintf(", %d not done", l.NotDone)
	}
	return out
}

// name is what a code is called in the history written by hand.
func (d *day) name(code string) string {
	if n, ok := d.codes[code]; ok {
		return n
	}
	if strings.HasPrefix(code, "N-") && len(code) > 20 { // a nest's number is short
		return "the problem"
	}
	return code
}

// refused is what was refused about it.
func (d *day) refused(h app.HistoryPage) []entry {
	var out []entry
	for _, r := range h.Refusals {
		out = append(out, entry{At: r.At.In(opening.Location()).Format("15:04"), Code: r.Code, Kind: r.Kind, Station: string(r.Station)})
	}
	return out
}

// agrees holds a history against the one written by hand, line by line.
func (d *day) agrees(what string, got, want []entry) {
	d.t.Helper()
	for i := range max(len(got), len(want)) {
		switch {
		case i >= len(got):
			d.t.Errorf("%s, line %d: the history lacks %s", what, i+1, line(want[i]))
		case i >= len(want):
			d.t.Errorf("%s, line %d: the history has besides %s", what, i+1, line(got[i]))
		case !reflect.DeepEqual(got[i], want[i]):
			d.t.Errorf("%s, line %d: the history says\n%s\nby hand it is\n%s", what, i+1, line(got[i]), line(want[i]))
		}
	}
}

func line(e entry) string {
	text, err := json.Marshal(e)
	if err != nil {
		return err.Error()
	}
	return string(text)
}

// proves holds the histories of the order and of its first pallet against what
// was written by hand.
func (d *day) proves() {
	d.t.Helper()
	want := d.written()
	d.agrees("O-5101", d.told(d.history("order/O-5101")), want["O-5101"])
	pallet := d.history(d.parts)
	d.agrees("PALLET-1", d.told(pallet), want["PALLET-1"])
	d.agrees("PALLET-1 refused", d.refused(pallet), want["PALLET-1 refused"])
}
