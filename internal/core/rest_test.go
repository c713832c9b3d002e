package core_test

import (
	"encoding/json"
	"testing"
	"time"

	"tagalong/internal/core"
)

// Three of four are rounded and signed. Whether rounding is begun on the fourth is what the signer says of it.
func TestWhatIsNotDoneIsBegunAsItsSignerSays(t *testing.T) {
	for _, c := range []struct {
		what  string
		begin bool // before
		good  int
		rest  core.Rest
		want  string // "": it waits, else who began it
		since time.Duration
	}{
		{what: "nothing said, never begun: untouched parts wait", good: 3},
		{what: "nothing said, begun before: begun as it was", begin: true, good: 3, want: "P21"},
		{what: "untouched, whatever was begun on the lot", begin: true, good: 3, rest: core.RestWaits},
		{what: "rounded on one side", good: 3, rest: core.RestBegun, want: "P21", since: time.Hour},
		{what: "begun before, and still in work", begin: true, good: 3, rest: core.RestBegun, want: "P21"},
		{what: "nothing finished: that is a beginning", want: "P21", since: time.Hour},
		{what: "nothing finished nor begun", rest: core.RestWaits},
	} {
		t.Run(c.what, func(t *testing.T) {
			s, id, w := atRounding(t)
			start := s.now
			if c.begin {
				s.must(core.Begin{Pallet: w.Pallet, Stage: "edge-round"}, "ROUND-AL", "P21")
			}
			s.now = s.now.Add(time.Hour)
			w.Lots[0].Good, w.Lots[0].NotDone, w.Lots[0].Rest = c.good, 4-c.good, c.rest
			e := s.must(w, "ROUND-AL", "P21")
			l := s.state.Lots[id]
			same(t, "not done", l.Qty, 4-c.good)
			said := map[bool]core.Rest{true: core.RestBegun, false: core.RestWaits}[c.want != ""]
			same(t, "the record says", e.Lots[0].Rest, said)
			switch {
			case c.want == "" && l.Started != nil:
				t.Errorf("begun: %+v", *l.Started)
			case c.want != "" && (l.Started == nil || string(l.Started.By) != c.want || l.Started.At.Sub(start).Truncate(time.Hour) != c.since):
				t.Errorf("begun: %+v, want by %s %s after %s", l.Started, c.want, c.since, start)
			}
			s.agrees()
			s.must(mustWork(s, id), "ROUND-AL", "P21")
		})
	}
}

// A lapse is judged when coating starts: parts hung in time and sprayed later pass, parts said to be
// untouched have not started, whenever their lot was begun.
func TestUntouchedPartsLapse(t *testing.T) {
	for rest, code := range map[core.Rest]string{core.RestBegun: "", core.RestWaits: "pretreat-lapsed"} {
		s := newShop(t)
		s.nest("T-7", sheet5005, trays, core.Component{Item: tray, Qty: 2})
		id := s.separate("T-7")[0].ID
		s.until(id, "coat")
		s.bring(id, "BOOTH-1")
		w := mustWork(s, id)
		s.must(core.Begin{Pallet: w.Pallet, Stage: "coat"}, "BOOTH-1", "P21")
		w.Lots[0].Good, w.Lots[0].NotDone, w.Lots[0].Rest = 1, 1, rest
		s.must(w, "BOOTH-1", "P21")
		w.Lots[0].NotDone = 0
		s.now = s.now.Add(17 * time.Hour)
		if code != "" {
			s.refused(code, w, "BOOTH-1", "P21")
		} else {
			s.must(w, "BOOTH-1", "P21")
		}
		s.agrees()
	}
}

func TestRestIsOneOfItsWords(t *testing.T) {
	var w core.LotWork
	if err := json.Unmarshal([]byte(`{"rest": "waits"}`), &w); err != nil || w.Rest != core.RestWaits {
		t.Errorf("%v, %+v", err, w)
	}
	if err := json.Unmarshal([]byte(`{"rest": "later"}`), &w); err == nil {
		t.Error("a word unknown was taken")
	}
}
