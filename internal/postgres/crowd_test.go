package postgres_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"tagalong/internal/core"
	"tagalong/internal/crowd"
	"tagalong/internal/postgres"
	"tagalong/internal/words"
)

// tablet is one of several people at work in the hall at once, each drawing what
// to do. What they do may be refused; it may never fail.
type tablet struct {
	*hall
	ids   *rand.Rand
	dice  dice
	walk  *crowd.Walk
	seen  *core.State // what it sees, until it has sent something
	sent  []sending   // in this act
	twice bool        // sends some commands a second time, the first still under way
	tally map[string]*tried
}

// sending is a command sent, and what it came to.
type sending struct {
	name    string
	body    core.Body
	refusal *core.Refusal
}

// tried counts commands of a name, and by what they were refused.
type tried struct {
	sent, done int
	refused    map[string]int
}

// dice draw which rows an act is about from one source, and how much of them
// from another, so that two people may mean the same rows and not the same.
type dice struct{ rows, amounts *rand.Rand }

// amounts are the labels of draws that choose no row.
var amounts = []string{"qty", "found", "bad", "not done", "so many", "damaged", "disposition", "value", "rejoin", "stage", "fresh", "stay", "mix"}

// nothing is what an act that finds nothing to be about ends with.
type nothing struct{}

func (d dice) UpTo(n int, label string) int {
	if slices.Contains(amounts, label) {
		return d.amounts.IntN(n + 1)
	}
	return d.rows.IntN(n + 1)
}

func (d dice) Nothing(string) { panic(nothing{}) }

func seeded(rows, amounts uint64) dice {
	return dice{rand.New(rand.NewPCG(rows, 1)), rand.New(rand.NewPCG(amounts, 2))}
}

func (h *hall) tablet(name string, seed uint64) *tablet {
	x := &tablet{hall: h, ids: rand.New(rand.NewPCG(seed, 3)), dice: seeded(seed, seed), tally: map[string]*tried{}}
	x.walk = &crowd.Walk{Book: h.book, Floor: x, Chance: x, Tag: name + "-"}
	return x
}

func (x *tablet) UpTo(n int, label string) int { return x.dice.UpTo(n, label) }
func (x *tablet) Nothing(what string)          { x.dice.Nothing(what) }
func (x *tablet) Now() time.Time               { return x.clock.Now() }

func (x *tablet) State() *core.State {
	if x.seen == nil {
		s, err := x.state()
		if err != nil {
			x.t.Errorf("look at the shop: %v", err)
			x.Nothing("shop")
		}
		x.seen = s
	}
	return x.seen
}

func (x *tablet) Latest() []core.EventID {
	x.mu.Lock()
	defer x.mu.Unlock()
	return slices.Clone(x.latest)
}

// Send sends a command to the service and notes what it came to. Every refusal
// has words, and none is the record's own fault.
func (x *tablet) Send(name string, c core.Command, signers ...core.PersonID) core.Outcome {
	if c.Station == "" && len(signers) == 0 { // what stands at no station has no tablet, and nobody asks from a desk
		x.Nothing("tablet")
	}
	times := 1
	if x.twice && x.ids.IntN(3) == 0 {
		times = 2
	}
	a, err := x.ask(newID(x.ids), times, c, signers...)
	x.seen = nil
	if err != nil {
		x.t.Errorf("%s %+v: %v", name, c.Body, err)
		x.Nothing("answer")
	}
	x.note(name, c.Body, a.Refusal)
	out := core.Outcome{Refusal: a.Refusal}
	for _, e := range a.Events {
		out.Events = append(out.Events, e.Event)
	}
	if len(out.Events) > 0 {
		x.mu.Lock()
		x.latest = append(x.latest[max(0, len(x.latest)-12):], out.Events[0].ID)
		x.mu.Unlock()
	}
	return out
}

func (x *tablet) note(name string, body core.Body, r *core.Refusal) {
	x.sent = append(x.sent, sending{name, body, r})
	n := x.tally[name]
	if n == nil {
		n = &tried{refused: map[string]int{}}
		x.tally[name] = n
	}
	n.sent++
	if r == nil {
		n.done++
		return
	}
	n.refused[r.Code]++
	if _, named := words.Entry(r.Code); !named || r.Code == "record-disagrees" {
		x.t.Errorf("%s %+v: refused with %s %v", name, body, r.Code, r.Params)
	}
}

// do does an act, and reports whether it came to a command.
func (x *tablet) do(a crowd.Act) (came bool) {
	x.sent = nil
	defer func() {
		if r := recover(); r != nil && r != any(nothing{}) {
			panic(r)
		}
		came = len(x.sent) > 0
	}()
	a.Do()
	return
}

// draw is an act, drawn as often as it is done beside the others.
func (x *tablet) draw(r *rand.Rand) int {
	all := 0
	for _, a := range x.walk.Acts() {
		all += a.Often
	}
	n := r.IntN(all)
	return slices.IndexFunc(x.walk.Acts(), func(a crowd.Act) bool { n -= a.Often; return n < 0 })
}

// once are commands that, word for word the same, can be done but once.
var once = []string{"separate", "dispose", "lift-hold", "assemble", "begin-unit", "ship", "take-apart", "correct", "fuse", "join-late"}

// collide has two people come to the same idea at one moment: they see the same,
// mean the same rows, and mostly want the same of them. In a third of these the
// second acts when the first is done, by what both saw before.
func (x *tablet) collide(rival *tablet, r *rand.Rand) (came, met, lost bool) {
	rows, act := r.Uint64(), x.draw(r)
	x.seen, x.dice, rival.dice = nil, seeded(rows, 1), seeded(rows, uint64(1+r.IntN(2)))
	rival.seen = x.State()
	switch r.IntN(3) {
	case 0:
		came = x.do(x.walk.Acts()[act])
		rival.do(rival.walk.Acts()[act])
	default:
		var two sync.WaitGroup
		two.Go(func() { rival.do(rival.walk.Acts()[act]) })
		came = x.do(x.walk.Acts()[act])
		two.Wait()
	}
	for _, a := range x.sent {
		for _, b := range rival.sent {
			if a.refusal == nil && b.refusal == nil && slices.Contains(once, a.body.Kind()) && same(a.body, b.body) {
				x.t.Errorf("two did the same: %s %+v", a.name, a.body)
			}
			met = met || a.name == b.name
			lost = lost || same(a.body, b.body) && (a.refusal == nil) != (b.refusal == nil)
		}
	}
	return came, met, lost
}

func same(a, b core.Body) bool {
	one, _ := json.Marshal(a)
	other, _ := json.Marshal(b)
	return a.Kind() == b.Kind() && string(one) == string(other)
}

// Eight tablets work one shop at once, by the service, as tablets do: whatever
// they come to, nothing fails, no part is lost or made, every order line adds
// up, and record, state, rebuild and the books kept beside agree.
func TestACrowdInTheHall(t *testing.T) { crowded(t, 8, 480, crowdSeed(t, 4)) }

func TestSoakTheFloor(t *testing.T) {
	text := os.Getenv("TAGALONG_SOAK_FLOOR")
	if text == "" {
		t.Log("make soak sets TAGALONG_SOAK_FLOOR; a few hundred acts are in the test of the same crowd")
		return
	}
	acts, err := strconv.Atoi(text)
	if err != nil || acts < 8 {
		t.Fatalf("TAGALONG_SOAK_FLOOR is %q, not a count of acts", text)
	}
	crowded(t, 8, acts, crowdSeed(t, uint64(time.Now().UnixNano())))
}

// crowdSeed is what the crowd draws from: what TAGALONG_SOAK_SEED says, or usual.
func crowdSeed(t *testing.T, usual uint64) uint64 {
	t.Helper()
	if text := os.Getenv("TAGALONG_SOAK_SEED"); text != "" {
		n, err := strconv.ParseUint(text, 10, 64)
		if err != nil {
			t.Fatalf("TAGALONG_SOAK_SEED is %q, not a number", text)
		}
		usual = n
	}
	t.Logf("TAGALONG_SOAK_SEED=%d", usual)
	return usual
}

// openHall has two orders and the nests of their parts.
func openHall(t testing.TB) *hall {
	t.Helper()
	h := newHall(t)
	h.must(core.Enlist{Orders: []core.Order{crowd.Sets("E-1"), crowd.Frames("E-2")}, Source: "invented"}, "")
	sets, caps, frames := core.Owner{Order: "E-1", Line: 1}, core.Owner{Order: "E-1", Line: 2}, core.Owner{Order: "E-2", Line: 2}
	h.nest("N-1", crowd.Sheet, sets, core.Component{Item: crowd.Plate, Qty: 4}, core.Component{Item: crowd.Cap, Qty: 4})
	h.nest("N-2", crowd.Bar, sets, core.Component{Item: crowd.Strut, Qty: 4})
	h.nest("N-3", crowd.Sheet, frames, core.Component{Item: crowd.Plate, Qty: 4})
	h.nest("N-4", crowd.Bar, frames, core.Component{Item: crowd.Strut, Qty: 3})
	h.nest("N-5", crowd.Sheet, caps, core.Component{Item: crowd.Cap, Qty: 3})
	return h
}

func crowded(t *testing.T, tablets, acts int, seed uint64) {
	h := openHall(t)
	began := time.Now()
	came, met, lost := make([]int, tablets), make([]int, tablets), make([]int, tablets)
	all := make([]*tablet, 2*tablets) // each with a rival at its side
	var wg sync.WaitGroup
	for i := range tablets {
		r := rand.New(rand.NewPCG(seed, uint64(i)))
		x, rival := h.tablet(fmt.Sprintf("M-%d", i), r.Uint64()), h.tablet(fmt.Sprintf("R-%d", i), r.Uint64())
		all[2*i], all[2*i+1] = x, rival
		wg.Go(func() {
			for range acts / tablets {
				x.seen = nil
				did := false
				if r.IntN(4) == 0 {
					var both, one bool
					if did, both, one = x.collide(rival, r); both {
						met[i]++
					}
					if one {
						lost[i]++
					}
				} else {
					x.dice = seeded(r.Uint64(), r.Uint64())
					for tries := 0; !did && tries < 3; tries++ { // somebody who finds nothing to do looks for something else
						did = x.do(x.walk.Acts()[x.draw(r)])
					}
				}
				if did {
					came[i]++
				}
			}
		})
	}
	wg.Wait()
	took := time.Since(began)
	sum := summed(all)
	t.Logf("seed %d: %d tablets, %d acts, %d came to a command, %d of two who meant the same, in %d of them one came too late; %d commands, %d accepted, in %v\n%v", seed, tablets, acts,
		total(came), total(met), total(lost), sum.sent(), sum.done(), took.Round(time.Second/10), sum)
	if total(came)*10 < acts*6 {
		t.Errorf("%d of %d acts came to a command: the crowd stands about", total(came), acts)
	}
	if sum.done()*10 < sum.sent()*4 {
		t.Errorf("%d of %d commands were accepted: the crowd asks for what can't be", sum.done(), sum.sent())
	}
	if total(lost)*10 < total(met) {
		t.Errorf("of %d acts of two who meant the same, in %d one came too late: they don't meet", total(met), total(lost))
	}
	for _, name := range []string{"sign-off", "divide", "separate with damaged", "place-hold", "lift-hold", "recount less", "gather", "load", "settle"} {
		if sum[name] == nil || sum[name].done == 0 {
			t.Errorf("nobody came to %s", name)
		}
	}
	h.agrees()
}

// total adds up.
func total(counts []int) (n int) {
	for _, c := range counts {
		n += c
	}
	return n
}

// agrees holds the record against the books kept beside, the rules of slots, the
// state, and a rebuild.
func (h *hall) agrees() {
	h.t.Helper()
	state, books := core.NewState(), crowd.NewBooks(h.book)
	log := h.log()
	for i, e := range log {
		taken := inSlot(state, e)
		if err := core.Apply(state, e); err != nil {
			h.t.Fatal(err)
		}
		if err := books.Post(e); err != nil {
			h.t.Fatal(err)
		}
		if len(taken) > 0 {
			h.t.Errorf("%s: %v goes into slot %s, where %v stands, and nobody was asked", e.ID, e.Pallets, e.Ref, taken)
		}
		judge := books.Held
		if len(log) < 1500 || i%50 == 0 { // everything, as often as there is time for
			judge = books.Judge
		}
		if err := judge(state); err != nil {
			what, _ := json.Marshal(e)
			h.t.Fatalf("after %s, event %d of %d: %v\n%s", e.ID, i+1, len(log), err, what)
		}
	}
	if err := books.Judge(state); err != nil {
		h.t.Error(err)
	}
	now := must(h.state())(h.t)
	for id, l := range state.Lots {
		if got, there := now.Lots[id]; l.Qty != got.Qty || there && l.Place != got.Place {
			h.t.Errorf("lot %s: %d at %s by the record, %d at %s in the database", id, l.Qty, l.Place, got.Qty, got.Place)
		}
	}
	h.ordersTold(h.t)
	for _, no := range orderNumbers(h.t, h.fixture) {
		h.orderReadAgrees(h.t, no, must(h.LoadOrder(h.t.Context(), no))(h.t))
	}
	_, faults, err := h.Verify(h.t.Context())
	if err != nil {
		h.t.Fatal(err)
	}
	for _, f := range faults {
		h.t.Errorf("fault: %v", f)
	}
	before := h.dump()
	if _, err := postgres.Rebuild(h.t.Context(), h.db.OwnerURL); err != nil {
		h.t.Fatal(err)
	}
	if h.dump() != before {
		h.t.Error("a rebuild changed the rows")
	}
}

// inSlot lists the pallets with parts on them in the slot that an event puts
// another into.
func inSlot(s *core.State, e core.Event) []core.PalletCode {
	if e.Ref == "" || e.Kind != core.EvTakenIn && e.Kind != core.EvSlotted {
		return nil
	}
	var out []core.PalletCode
	for code, p := range s.Pallets {
		if p.Station == e.Station && p.Bound == "" && p.Slot == e.Ref && code != e.Pallets[0] && len(s.LotsAt(core.On(code))) > 0 {
			out = append(out, code)
		}
	}
	return out
}

// summary is what several tablets tried.
type summary map[string]*tried

func summed(all []*tablet) summary {
	out := summary{}
	for _, x := range all {
		for name, n := range x.tally {
			if out[name] == nil {
				out[name] = &tried{refused: map[string]int{}}
			}
			out[name].sent, out[name].done = out[name].sent+n.sent, out[name].done+n.done
			for code, k := range n.refused {
				out[name].refused[code] += k
			}
		}
	}
	return out
}

func (s summary) sent() (n int) {
	for _, x := range s {
		n += x.sent
	}
	return n
}

func (s summary) done() (n int) {
	for _, x := range s {
		n += x.done
	}
	return n
}

func (s summary) String() string {
	var b strings.Builder
	for _, name := range slices.Sorted(maps.Keys(s)) {
		x := s[name]
		fmt.Fprintf(&b, "%-28s %5d accepted %5d refused", name, x.done, x.sent-x.done)
		codes := slices.SortedFunc(maps.Keys(x.refused), func(a, b string) int { return x.refused[b] - x.refused[a] })
		for _, c := range codes[:min(4, len(codes))] {
			fmt.Fprintf(&b, "  %s %d", c, x.refused[c])
		}
		b.WriteByte('\n')
	}
	return b.String()
}
