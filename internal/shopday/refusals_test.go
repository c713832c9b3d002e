package shopday

import (
	"crypto/rand"
	"fmt"
	"net/http"
	"slices"
	"strings"
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
	rows, err := s.store.Refusals(t.Context(), 1)
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
	callOne   = "Nothing was recorded. Call a weld inspector. No concession exists for this rule."
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
		says:   "Wynn Askell's qualification for weld ended on 2026-11-10.",
		remedy: "Nothing was recorded. Have somebody qualified sign, or have the qualification renewed first.",
	}})
	f.weld()
	own := f.palletOf(f.welded)
	f.refuseAll(t, []no{{
		name: "released by its welder", from: f.at("INSPECT-1"), pallet: own,
		ask:    f.asks(f.signOff(own, "weld-inspect", f.welded), welder),
		status: http.StatusConflict, code: "maker-may-not-release", person: welder, absolute: true, lots: []core.LotID{f.welded},
		says:   "Halvard Ensley worked on this weld and may not release it.",
		remedy: "Nothing was recorded. Call another inspector. No concession exists for this rule.",
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

// TestCodesRefused: a code nobody printed, one with a slip, and somebody else's.
func TestCodesRefused(t *testing.T) {
	s := open(t)
	bench := s.at("BENCH-1")
	fresh, err := code.New(code.Pallet, rand.Reader)
	must(t, err)
	unit, err := code.New(code.Unit, rand.Reader)
	must(t, err)
	unknown, sheet := string(fresh), string(s.sheet("SH-5005-3"))
	takes := func(text string) request { return s.asks(core.TakeIn{Pallet: core.PalletCode(text)}) }
	slip := slipped(t)
	again := "Nothing was recorded. Compare it with the ticket and type it again, or scan the QR symbol."
	foreign := "Nothing was recorded. Scan the QR symbol on our own ticket; our codes look like P4K7 M2QX."
	s.refuseAll(t, []no{{
		name: "unknown", from: bench, ask: takes(unknown), status: http.StatusNotFound, code: "pallet-unknown",
		says:   "No pallet " + code.Code(unknown).Spaced() + " was ever made.",
		remedy: "Nothing was recorded. Scan the code again, or type it from the ticket.",
	}, {
		name: "two symbols changed places", from: bench, ask: takes(slip), status: http.StatusUnprocessableEntity, code: "code-mistyped",
		says: "“" + slip + "” can't be read as one of our codes: a symbol is wrong, or two changed places.", remedy: again,
	}, {
		name: "a symbol too few", from: bench, ask: takes(sheet[:7]), status: http.StatusUnprocessableEntity, code: "code-mistyped",
		says: "“" + sheet[:7] + "” can't be read as one of our codes: it has 7 symbols and our codes have 8.", remedy: again,
	}, {
		name: "foreign", from: bench, ask: takes("4006381333931"), status: http.StatusUnprocessableEntity, code: "code-foreign",
		says: "“4006381333931” is not one of our codes.", remedy: foreign,
	}, {
		name: "of another kind", from: bench, ask: takes(string(unit)), status: http.StatusUnprocessableEntity, code: "code-wrong-kind",
		says:   unit.Spaced() + " is the code of a unit build, and a pallet or sheet or bar is needed here.",
		remedy: "Nothing was recorded. Scan the code on the pallet or sheet or bar.",
	}})
	if got := bench.send(http.MethodGet, "/api/pallets/"+unknown, "", ""); got.StatusCode != http.StatusNotFound || problem(t, got).Code != "code-unknown" {
		t.Errorf("looking an unknown code up: %d %s", got.StatusCode, got.body)
	}
}

// TestSignaturesRefused: PINs, badges and tablets that are not good.
func TestSignaturesRefused(t *testing.T) {
	s := open(t)
	bay := s.at("INSPECT-1")
	hold := core.PlaceHold{Scope: core.HoldHeat, Ref: "H5-20881", Reason: "certificate in doubt"}
	wrong := func() request {
		r := s.asks(hold, inspector)
		r.Sign[0].PIN = "730164"
		return r
	}
	first := wrong()
	x := no{
		name: "wrong PIN", from: bay, ask: first, status: http.StatusForbidden, code: "pin-wrong", person: inspector,
		says: "That is not the PIN of Rafe Tolliver.", remedy: "Nothing was signed. You can try again at once.",
	}
	s.refuseAll(t, []no{x})
	// The id is not used up: with the right PIN the same command goes through.
	first.Sign[0].PIN = pin
	bay.recorded(bay.post(first))

	for _, next := range []string{
		"You can try again at once.", "You can try again at once.", "You can try again at once.",
		"After one more wrong try there is a wait.", "Wait 1 minute before the next try.",
	} {
		x.ask, x.remedy = wrong(), "Nothing was signed. "+next
		s.refuse(t, x)
	}
	waits := s.asks(hold, inspector)
	waits.Body = core.PlaceHold{Scope: core.HoldHeat, Ref: "H5-20914", Reason: "certificate in doubt"}
	// The right PIN must wait as well.
	got := s.refuse(t, no{
		name: "throttled", from: bay, ask: waits, status: http.StatusTooManyRequests, code: "pin-wait", person: inspector,
		says:   "Too many wrong PINs for Rafe Tolliver; the next try can be made in 59 seconds.",
		remedy: "Nothing was signed. Wait 59 seconds, or have an admin make a one-time code and set a new PIN with it.",
	})
	if got.Header.Get("Retry-After") != "59" || problem(t, got).After != 59 {
		t.Errorf("Retry-After %q: %s", got.Header.Get("Retry-After"), got.body)
	}
	s.pass(2 * time.Minute)
	bay.recorded(bay.post(waits))

	old := s.badge("P19")
	s.issue("P19")
	replaced := s.asks(hold)
	replaced.Sign = []app.Sign{{Badge: old, PIN: pin}}
	ended := s.asks(hold, quality)
	must(t, s.app.RevokeBadge(t.Context(), app.Machine(), quality))
	stranger, lost := s.device(), s.enrolled("INSPECT-1")
	must(t, s.app.RevokeTablet(t.Context(), app.Machine(), s.newestTablet(t)))
	enrolIt := "Nothing was recorded. Have an admin make a one-time code, and enrol the device with it."
	newer := "Nothing was signed. Scan the newer badge, or have one printed."
	s.refuseAll(t, []no{{
		name: "replaced badge", from: bay, ask: replaced, status: http.StatusForbidden, code: "badge-revoked", person: "P19",
		says: "This badge of Dagny Whin is no longer good.", remedy: newer,
	}, {
		name: "revoked badge", from: bay, ask: ended, status: http.StatusForbidden, code: "badge-revoked", person: quality,
		says: "This badge of Ilse Marrable is no longer good.", remedy: newer,
	}, {
		name: "unenrolled tablet", from: stranger, ask: s.asks(hold, "P20"), status: http.StatusUnauthorized, code: "unenrolled-tablet",
		unknown: true, says: "This device is not enrolled to a station.", remedy: enrolIt,
	}, {
		name: "revoked tablet", from: lost, ask: s.asks(hold, "P20"), status: http.StatusUnauthorized, code: "tablet-revoked",
		unknown: true, says: "This tablet's enrolment was ended.",
		remedy: "Nothing was recorded. Have an admin make a one-time code, and enrol it again.",
	}})
}

func (s *shop) newestTablet(t *testing.T) core.TabletID {
	t.Helper()
	all, err := s.app.Tablets(t.Context(), app.Machine())
	must(t, err)
	return all[0].ID
}

// TestNumbersAndIdsRefused: a command whose own numbers don't sum, and an id
// used for something else.
func TestNumbersAndIdsRefused(t *testing.T) {
	s := open(t)
	sheet := s.cut("SH-5005-3", "LASER-1", "BENCH-1")
	bench := s.at("BENCH-1")
	ticks := func(good int) core.Separate {
		return core.Separate{Sheet: sheet, Nest: "N-5001", Ticks: []core.PartTick{
			{Line: 1, Good: 2, To: "new:A"}, {Line: 2, Good: good, To: "new:A"}, {Line: 3, Good: 2, To: "new:A"},
		}}
	}
	s.refuseAll(t, []no{{
		name: "ticks don't sum", from: bench, pallet: sheet, ask: s.asks(ticks(2), "P06"), person: "P06",
		status: http.StatusConflict, code: "nest-numbers", lots: []core.LotID{s.on(sheet)[0].ID},
		says:   "Line 2, wall stiffener: the nest asks for 3, and your numbers come to 2.",
		remedy: "Nothing was recorded. Good and damaged and missing, less the extra ones, must come to 3.",
	}})
	parts := bench.does(ticks(3), "P06")
	pallet := s.palletOf(parts.Lots[0].Lot)
	skins, trays := parts.Lots[0].Lot, parts.Lots[2].Lot
	bench.does(core.PrintTraveller{Pallet: pallet})

	round := s.at("ROUND-AL")
	s.takeIn(pallet, "ROUND-AL")
	short := s.signOff(pallet, "edge-round", skins)
	short.Lots[0].Good, short.Lots[0].Bad, short.Lots[0].Why, short.Lots[0].NotDone = 1, 1, "dented", 1
	s.refuseAll(t, []no{{
		name: "counts don't sum", from: round, pallet: pallet, ask: s.asks(short, operator), person: operator,
		status: http.StatusConflict, code: "numbers-dont-sum", lots: []core.LotID{skins},
		says:   "1 good, 1 not good and 1 not done come to 3, but there are 2 wall skins 1200.",
		remedy: "Nothing was recorded. Put the numbers right; they must come to 2. If the record is wrong, recount it.",
	}})

	// The same id again is answered as before; with another body it is refused.
	once := s.asks(s.signOff(pallet, "edge-round", skins), operator)
	first := round.recorded(round.post(once))
	events := s.events()
	got := round.post(once)
	again := decoded[server.Answer](t, got.body)
	if got.StatusCode != http.StatusOK || !again.Again || len(again.Events) != 1 || again.Events[0].ID != first.ID || s.events() != events {
		t.Errorf("the same id again: %d %s", got.StatusCode, got.body)
	}
	other := once
	other.Body = s.signOff(pallet, "edge-round", trays)
	s.refuseAll(t, []no{{
		name: "same id, another body", from: round, pallet: pallet, ask: other,
		status: http.StatusConflict, code: "id-used",
		says:   "This tablet has sent something else under the same number before.",
		remedy: "What was recorded first still stands; this was not recorded. Reload the page, look what is recorded, then do it again.",
	}})

	s.stalePrint(t, pallet, trays)
	s.verified()
}

// stalePrint: print 1 no longer says what is on the pallet; the tablet is told
// what changed and asked, and goes on once the person says so.
func (s *shop) stalePrint(t *testing.T, pallet core.PalletCode, trays core.LotID) {
	t.Helper()
	s.at("ROUND-AL").does(core.Divide{From: pallet, Picks: []core.Pick{{Lot: trays, Qty: 1}}})
	brake := s.at("BRAKE-1")
	seen := s.asks(core.TakeIn{Pallet: pallet, PrintSeen: 1})
	s.refuseAll(t, []no{{
		name: "stale print", from: brake, pallet: pallet, ask: seen, status: http.StatusConflict, code: "print-stale", asks: true,
		says:   "The ticket you hold (print 1) no longer says what is on pallet " + code.Code(pallet).Spaced() + ": roof tray 2400: 2 became 1.",
		remedy: "Look at the parts. If the screen is right, go on, and print a new ticket before the pallet leaves.",
	}})
	yes := s.asks(seen.Body)
	yes.Confirm = []string{"print-stale"}
	brake.recorded(brake.post(yes))
	if at := s.pallet(pallet).Station; at != "BRAKE-1" {
		t.Errorf("confirmed, and the pallet is at %s", at)
	}
}

// slipped is a code in which two neighbours changed places; one without Y and Z,
// which keyboards exchange: of those the shop guesses what the ticket says.
func slipped(t testing.TB) string {
	t.Helper()
	for {
		c, err := code.New(code.Pallet, rand.Reader)
		must(t, err)
		for i := 1; i < code.Length-1; i++ {
			if c[i] != c[i+1] && !strings.ContainsAny(string(c), "YZ") {
				return string(c[:i] + c[i+1:i+2] + c[i:i+1] + c[i+2:])
			}
		}
	}
}
