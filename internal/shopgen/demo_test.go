package shopgen

import (
	"bytes"
	"encoding/json"
	"slices"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/sign"
)

// made makes a demo shop in memory that ends at now. PINs are hashed at the
// least cost that is taken: these tests are not about the hash.
func made(t *testing.T, now time.Time) (*memory, Made) {
	t.Helper()
	clock, err := NewClock(now)
	if err != nil {
		t.Fatal(err)
	}
	key, err := sign.NewKey(bytes.Repeat([]byte{7}, sign.KeyBytes))
	if err != nil {
		t.Fatal(err)
	}
	m := newMemory(clock.Now)
	ring := sign.NewKeyring(key)
	svc, err := app.New(m, ring)
	if err != nil {
		t.Fatal(err)
	}
	if svc.PINs, err = sign.NewVerifier(ring, sign.Cost{MemoryKiB: 8 * 1024, Passes: 1, Lanes: 1}); err != nil {
		t.Fatal(err)
	}
	out, err := Demo(t.Context(), svc, clock)
	if err != nil {
		t.Fatalf("at %v: %v", now, err)
	}
	return m, out
}

// now is a Wednesday afternoon.
var now = time.Date(2026, 11, 25, 14, 12, 0, 0, time.UTC)

// The same present makes the same shop, event by event.
func TestDemoIsDeterministic(t *testing.T) {
	t.Parallel()
	one, _ := made(t, now)
	other, _ := made(t, now)
	a, err := json.Marshal(one.events)
	if err != nil {
		t.Fatal(err)
	}
	b, err := json.Marshal(other.events)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a, b) {
		for i := range one.events {
			x, _ := json.Marshal(one.events[i])
			y, _ := json.Marshal(other.events[i])
			if !bytes.Equal(x, y) {
				t.Fatalf("event %d:\n%s\n%s", i+1, x, y)
			}
		}
		t.Fatal("the two shops differ in length")
	}
}

// A demo can be made at any hour of any day: the day's turn must not break a
// pretreatment's sixteen hours, nor the story outlast the history.
func TestDemoAtAnyTime(t *testing.T) {
	t.Parallel()
	for _, at := range []time.Time{
		time.Date(2026, 11, 23, 6, 1, 0, 0, time.UTC),     // Monday, first thing
		time.Date(2026, 11, 26, 3, 0, 0, 0, time.UTC),     // in the night
		time.Date(2026, 11, 27, 21, 59, 0, 0, time.UTC),   // Friday, last thing
		time.Date(2026, 11, 29, 23, 0, 0, 0, time.UTC),    // Sunday
		time.Date(2027, 3, 29, 8, 15, 0, 0, time.UTC),     // the day after the clocks went on
		time.Date(2027, 10, 31, 12, 0, 0, 0, time.UTC),    // the Sunday the clocks go back
		time.Date(2031, 1, 1, 0, 30, 0, 1000, time.UTC),   // years on
		time.Date(2026, 11, 25, 14, 12, 7, 999, time.UTC), // off the microsecond
	} {
		t.Run(at.Format("Mon 2006-01-02 1504"), func(t *testing.T) {
			t.Parallel()
			m, out := made(t, at)
			last := m.events[len(m.events)-1].Recorded
			if last.After(at) || at.Sub(last) > 48*time.Hour {
				t.Errorf("the last event is at %v, and it is %v", last, at)
			}
			if out.Pallets < 80 || out.Pallets > 105 {
				t.Errorf("%d pallets on the floor", out.Pallets)
			}
			for i, e := range m.events[1:] {
				if e.Recorded.Before(m.events[i].Recorded) {
					t.Fatalf("event %d is recorded before event %d", i+2, i+1)
				}
			}
		})
	}
}

// The shop has what there is to see in it.
func TestDemoShowsTheDay(t *testing.T) {
	t.Parallel()
	m, out := made(t, now)
	t.Logf("%d commands, %d events, %d refusals recorded by the core", out.Commands, len(m.events), len(m.refusals))
	today := core.DateOf(now)

	open, late := 0, 0
	for _, o := range m.state.Orders {
		shipped := 0
		for _, l := range m.state.Lots {
			if l.Owner.Order == o.No && (l.Place.Kind == core.InConsignment || l.Place.Kind == core.AtSite) {
				shipped += l.Qty
			}
		}
		asked := 0
		for _, l := range o.Lines {
			for _, n := range core.Deliverables(m.book, l.Item, l.Qty) {
				asked += n
			}
		}
		if shipped >= asked {
			continue
		}
		open++
		if o.Promised.Before(today) {
			late++
		}
	}
	if open < 10 || open > 14 || late < 2 || late > 4 {
		t.Errorf("%d orders are open, %d of them promised for a day that has passed", open, late)
	}
	if first := m.events[0].Recorded; now.Sub(first) < 20*24*time.Hour {
		t.Errorf("the first event is of %v: that is no three weeks of history", first)
	}

	waits := map[core.StageName]int{}
	owners, lotsOn := map[core.PalletCode]map[string]bool{}, map[string]map[core.PalletCode]bool{}
	bound, quarantined := 0, 0
	for code, p := range m.state.Pallets {
		lots := m.state.LotsAt(core.On(code))
		if len(lots) == 0 {
			continue
		}
		if p.Bound != "" {
			bound++
		}
		if p.Kind == core.Quarantine {
			quarantined++
		}
		for _, l := range lots {
			if next := core.NextSteps(m.book, l); len(next) > 0 {
				waits[next[0].Stage]++
			}
			if l.Owner.Stock() {
				continue
			}
			if owners[code] == nil {
				owners[code] = map[string]bool{}
			}
			if lotsOn[l.Owner.Order] == nil {
				lotsOn[l.Owner.Order] = map[core.PalletCode]bool{}
			}
			owners[code][l.Owner.Order], lotsOn[l.Owner.Order][code] = true, true
		}
	}
	for _, stage := range []core.StageName{"cut", "separate", "edge-round", "hand-round", "fold", "weld-inspect", "tap", "pretreat",
		"key-and-clean", "coat-inspect", "final-check", "pack"} {
		if waits[stage] == 0 {
			t.Errorf("no lot waits for %s", stage)
		}
	}
	if bound < 2 || quarantined < 3 {
		t.Errorf("%d pallets are on their way, %d are in quarantine", bound, quarantined)
	}
	if !slices.ContainsFunc(values(owners), func(o map[string]bool) bool { return len(o) > 1 }) {
		t.Error("no pallet carries parts of several orders")
	}
	if n := len(lotsOn["O-4101"]); n < 8 {
		t.Errorf("order O-4101 is on %d pallets only", n)
	}

	unsettled, remade, reworked := 0, 0, 0
	for _, p := range m.state.Problems {
		switch {
		case p.Open():
			unsettled++
		case p.Disposition == core.DisposeRemake:
			remade++
		case p.Disposition == core.DisposeRework:
			reworked++
		}
	}
	if unsettled < 3 || remade < 2 || reworked < 1 {
		t.Errorf("%d problems are open, %d remade, %d reworked", unsettled, remade, reworked)
	}
	if !slices.ContainsFunc(values(m.state.Lots), func(l core.Lot) bool { return l.Remake != "" && l.Qty > 0 }) {
		t.Error("no part was made again")
	}
	gone, loaded, received := 0, 0, 0
	for _, c := range m.state.Consignments {
		if !c.Received.IsZero() {
			received++
		}
		if c.Gone.IsZero() {
			loaded++
		} else {
			gone++
		}
	}
	weighed, away, back := 0, 0, 0
	for _, c := range m.state.Consignments {
		weighed += len(c.Gross)
		if len(c.Owed()) > 0 {
			away++
		}
		if len(c.Back) > 0 {
			back++
		}
	}
	if weighed == 0 || away == 0 || back == 0 {
		t.Errorf("%d carriers were weighed; of %d consignments carriers are still out, of %d some came back", weighed, away, back)
	}
	if gone < 4 || loaded < 1 || received < 2 {
		t.Errorf("%d consignments are gone, %d received, %d wait", gone, received, loaded)
	}
	if kinds := kindsOf(m.events); kinds[core.EvDivided] == 0 {
		t.Error("no pallet was split")
	}
}

// Everything came by a command, and applying the events makes the same state.
func TestDemoIsItsEvents(t *testing.T) {
	t.Parallel()
	m, _ := made(t, now)
	again := core.NewState()
	for _, e := range m.events {
		if _, asked := m.answers[e.Command]; !asked {
			t.Errorf("event %s came without a command", e.ID)
		}
		if err := core.Apply(again, e.Event); err != nil {
			t.Fatal(err)
		}
	}
	a, errA := json.Marshal(m.state.Lots)
	b, errB := json.Marshal(again.Lots)
	if errA != nil || errB != nil || !bytes.Equal(a, b) {
		t.Errorf("the events make another state (%v, %v)", errA, errB)
	}
}

func TestBadgesAndPINs(t *testing.T) {
	t.Parallel()
	seen := map[string]core.PersonID{}
	for _, p := range []core.PersonID{"P01", "P02", "P29", "P30"} {
		for issue := 1; issue <= 2; issue++ {
			b, err := Badge(p, issue)
			if err != nil {
				t.Fatal(err)
			}
			if who, twice := seen[b.Text()]; twice {
				t.Errorf("%s and %s have one badge", who, p)
			}
			seen[b.Text()] = p
		}
		pin, err := sign.ParsePIN(PIN(p))
		if err != nil || pin.CheckNew() != nil {
			t.Errorf("the PIN of %s would not be taken: %v %v", p, err, pin.CheckNew())
		}
	}
}

func values[K comparable, V any](m map[K]V) []V {
	var out []V
	for _, v := range m {
		out = append(out, v)
	}
	return out
}

func kindsOf(events []app.Recorded) map[core.EventKind]int {
	out := map[core.EventKind]int{}
	for _, e := range events {
		out[e.Kind]++
	}
	return out
}

// The roster's badges are those that were issued, and nobody's has ended.
func TestRoster(t *testing.T) {
	t.Parallel()
	m, _ := made(t, now)
	roster, err := Roster(t.Context(), &app.Service{Store: m})
	if err != nil {
		t.Fatal(err)
	}
	if len(roster) != 30 || roster[0].Name != FirstAdmin || !roster[0].Is(core.Admin) {
		t.Fatalf("%d people, first %+v", len(roster), roster[0].Person)
	}
	for _, h := range roster {
		if h.Ended || h.Left {
			t.Errorf("%s: the badge has ended", h.ID)
		}
	}
	text, err := LostBadge()
	if err != nil {
		t.Fatal(err)
	}
	lost, err := sign.ParseBadge(text)
	if err != nil {
		t.Fatal(err)
	}
	if held, err := m.BadgeHolder(t.Context(), lost.Hash()); err != nil || !held.Revoked || held.Person != Lost {
		t.Errorf("the lost badge is %+v, %v", held, err)
	}
}
