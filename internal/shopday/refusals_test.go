package shopday

import (
	"fmt"
	"net/http"
	"slices"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/web/server"
)

// no is one thing that must be refused, and what must be said then.
type no struct {
	name     string
	from     *tablet
	ask      request
	pallet   core.PalletCode // whose state must stay
	status   int
	code     string
	says     string
	remedy   string
	absolute bool
	asks     bool // a question, not the end
	lots     []core.LotID
	others   []core.LotID
	person   core.PersonID // on record as the one refused; empty: only the station is known
	unknown  bool          // nobody is known to whom it was said, so it is not on record
}

// refuse sends what must be refused and holds the answer against it: the
// status, the document, the sentence and what to do next, that nothing was
// recorded or changed, and that the refusal itself is on record.
func (s *shop) refuse(t *testing.T, x no) answer {
	t.Helper()
	s.pass(time.Second)
	events, state := s.events(), s.state(t, x.pallet)
	got := x.from.post(x.ask)
	p := problem(t, got)
	if got.StatusCode != x.status || p.Code != x.code || p.Status != x.status {
		t.Fatalf("%d %s, want %d %s: %s", got.StatusCode, p.Code, x.status, x.code, got.body)
	}
	if p.Type != "/api/refusals#"+x.code || p.Detail != x.says+" "+x.remedy || p.Instance == "" {
		t.Errorf("type %q, detail %q, instance %q", p.Type, p.Detail, p.Instance)
	}
	if p.Title != x.says {
		t.Errorf("says %q\nwant %q", p.Title, x.says)
	}
	if p.Remedy != x.remedy {
		t.Errorf("remedy %q\nwant %q", p.Remedy, x.remedy)
	}
	if p.Absolute != x.absolute || p.Ask != x.asks || !slices.Equal(p.Lots, x.lots) || !slices.Equal(p.Others, x.others) {
		t.Errorf("absolute %v, ask %v, lots %v, others %v; want %v %v %v %v",
			p.Absolute, p.Ask, p.Lots, p.Others, x.absolute, x.asks, x.lots, x.others)
	}
	if n := s.events(); n != events {
		t.Errorf("%d events were recorded all the same", n-events)
	}
	if now := s.state(t, x.pallet); now != state {
		t.Errorf("pallet %s changed:\n%s\n%s", x.pallet, state, now)
	}
	s.onRecord(t, x)
	return got
}

func problem(t *testing.T, got answer) server.Problem {
	t.Helper()
	if kind := got.Header.Get("Content-Type"); kind != "application/problem+json" {
		t.Fatalf("%d as %s, want application/problem+json: %s", got.StatusCode, kind, got.body)
	}
	return decoded[server.Problem](t, got.body)
}

// state is all that is known of a pallet, as text.
func (s *shop) state(t *testing.T, p core.PalletCode) string {
	t.Helper()
	if p == "" {
		return ""
	}
	got := s.at("STORE-1").send(http.MethodGet, "/api/pallets/"+string(p), "", "")
	if got.StatusCode != http.StatusOK {
		t.Fatalf("pallet %s: %d %s", p, got.StatusCode, got.body)
	}
	return got.body
}

// onRecord: the latest recorded refusal is this one, under this command's id.
func (s *shop) onRecord(t *testing.T, x no) {
	t.Helper()
	rows, err := s.store.Refusals(t.Context(), app.RefusalQuery{Limit: 1})
	must(t, err)
	if x.unknown {
		if len(rows) > 0 && string(rows[0].Command) == x.ask.ID {
			t.Error("somebody unknown has a refusal on record")
		}
		return
	}
	if len(rows) == 0 {
		t.Fatal("no refusal is on record")
	}
	r := rows[0]
	said := fmt.Sprintf("%s %s at %s by %s", r.Refusal.Code, r.Kind, r.Station, r.Person)
	want := fmt.Sprintf("%s %s at %s by %s", x.code, x.ask.Body.Kind(), x.from.station, x.person)
	if said != want || string(r.Command) != x.ask.ID || !r.At.Equal(s.clock()) {
		t.Errorf("on record: %s (%s, %s)\nwant %s (%s, %s)", said, r.Command, r.At, want, x.ask.ID, s.clock())
	}
}

func (s *shop) refuseAll(t *testing.T, all []no) {
	t.Helper()
	for _, x := range all {
		t.Run(x.name, func(t *testing.T) { s.refuse(t, x) })
	}
}

const (
	roundThem = "Nothing was recorded. Round them, then pretreat them again. No concession exists for coating over sharp edges."
	callOne   = "Nothing was recorded. Call a weld inspector."
	sharpSays = "2 service covers may not go on: their edges were never rounded."
	heldSays  = "1 wall panel 2400 waits for a release: nobody may pass this hold point before an inspector has released it."
)

// TestRulesRefuse goes through what the shop's rules must refuse.
func TestRulesRefuse(t *testing.T) {
	f := newFloor(open(t))
	weld := f.at("WELD-1")
	f.refuseAll(t, []no{{
		name: "lapsed qualification", from: weld, ask: f.asks(f.assembly(), "P11"),
		status: http.StatusConflict, code: "qualification-lapsed", person: "P11",
		says:   "Wynn Askell's qualification for weld ended on 10 November 2026.",
		remedy: "Nothing was recorded. Have somebody qualified sign, or have the qualification renewed first.",
	}})
	f.weld()
	own := f.palletOf(f.welded)
	f.refuseAll(t, []no{{
		name: "released by its welder", from: f.at("INSPECT-1"), pallet: own,
		ask:    f.asks(f.signOff(own, "weld-inspect", f.welded), welder),
		status: http.StatusConflict, code: "maker-may-not-release", person: welder, absolute: true, lots: []core.LotID{f.welded},
		says:   "Halvard Ensley worked on this weld and may not release it.",
		remedy: "Nothing was recorded. Call another inspector.",
	}, {
		name: "unreleased, taken in at the pretreat line", from: f.at("PRETREAT-1"), pallet: own,
		ask:    f.asks(core.TakeIn{Pallet: own}),
		status: http.StatusConflict, code: "hold-not-released", absolute: true, lots: []core.LotID{f.welded},
		says: heldSays, remedy: callOne,
	}})

	f.join()
	line := f.at("PRETREAT-1")
	both := f.signOff(f.mixed, "pretreat", f.tray, f.welded)
	f.refuseAll(t, []no{{
		name: "pretreating past an unreleased weld", from: line, pallet: f.mixed, ask: f.asks(both, operator),
		status: http.StatusConflict, code: "hold-not-released", person: operator, absolute: true,
		lots: []core.LotID{f.welded}, others: []core.LotID{f.tray}, says: heldSays, remedy: callOne,
	}, {
		name: "pretreating past it by concession", from: line, pallet: f.mixed,
		ask:    waived(f.asks(both, operator, quality), "hold-not-released"),
		status: http.StatusConflict, code: "hold-not-released", person: operator, absolute: true,
		lots: []core.LotID{f.welded}, others: []core.LotID{f.tray}, says: heldSays, remedy: callOne,
	}, {
		name: "skipped step", from: line, pallet: f.mixed, ask: f.asks(f.signOff(f.mixed, "pretreat", f.sharp), operator),
		status: http.StatusConflict, code: "step-skipped", person: operator, lots: []core.LotID{f.sharp},
		says:   "“Pretreat” can't be signed for 2 service covers: “Round the edges” comes first.",
		remedy: "Nothing was recorded. Do “Round the edges”, then come back.",
	}, {
		name: "wrong station", from: line, pallet: f.mixed, ask: f.asks(f.signOff(f.mixed, "coat", f.tray), operator),
		status: http.StatusConflict, code: "wrong-station", person: operator,
		says:   "Pretreat line does not do “Coat”.",
		remedy: "Nothing was recorded. Take pallet " + code.Code(f.mixed).Spaced() + " to: spray booth 1, spray booth 2.",
	}})

	f.coatable()
	booth := f.at("BOOTH-1")
	coat := func(lots ...core.LotID) core.SignOff { return f.signOff(f.mixed, "coat", lots...) }
	sharp := no{
		status: http.StatusConflict, code: "edges-not-rounded", person: operator, absolute: true, from: booth, pallet: f.mixed,
		lots: []core.LotID{f.sharp}, says: sharpSays, remedy: roundThem,
	}
	f.refuseAll(t, []no{
		sharp.with("coating sharp edges", f.asks(coat(f.sharp), operator)),
		sharp.with("coating them beside rounded ones", f.asks(coat(f.tray, f.sharp), operator), f.tray),
		sharp.with("coating them by concession", waived(f.asks(coat(f.sharp), operator, quality), "edges-not-rounded")),
		{
			name: "coating past an unreleased weld", from: booth, pallet: f.mixed, ask: f.asks(coat(f.tray, f.welded), operator),
			status: http.StatusConflict, code: "hold-not-released", person: operator, absolute: true,
			lots: []core.LotID{f.welded}, others: []core.LotID{f.tray}, says: heldSays, remedy: callOne,
		},
	})
	// The others the refusal offered may go on.
	booth.does(coat(f.tray), operator)

	round := f.at("ROUND-AL")
	f.refuseAll(t, []no{{
		name: "step done twice", from: round, pallet: f.blades, ask: f.asks(f.signOff(f.blades, "edge-round", f.blade), operator),
		status: http.StatusConflict, code: "step-done", person: operator, lots: []core.LotID{f.blade},
		says:   "“Round the edges” is done already for 4 door rails; next is “Fold”.",
		remedy: "Nothing was recorded twice. Go on with the next step.",
	}})
	f.verified()
}

// with is the same refusal of another request.
func (x no) with(name string, ask request, others ...core.LotID) no {
	x.name, x.ask, x.others = name, ask, others
	return x
}

func waived(r request, code string) request {
	r.Waive = []core.Waiver{{Code: code, Reason: "the truck waits"}}
	return r
}
