package postgres_test

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/anishathalye/porcupine"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/crowd"
)

// planting is a genuine history of one tablet after the other, to be falsified:
// three caps divided, too many asked for after that, the first command sent
// again, a hold placed on the gauge they were measured with, and work refused
// for it.
type planting struct {
	*hall
	t      *testing.T
	r      *rand.Rand
	before []core.Event
	caps   core.Lot
	code   core.PalletCode
	was    string // what a look showed at first
}

// Where in the history what is.
const (
	firstDivide = iota
	lookAfter
	tooMany
	sentAgain
	takenIn
	gaugeHeld
	workStopped
)

func plant(t *testing.T) *planting {
	h := openHall(t)
	l := h.separate("N-5", crowd.Sheet)[0]
	h.until(l.ID, "final-check")
	code := core.PalletCode(h.lot(l.ID).Place.Ref)
	p := &planting{hall: h, t: t, r: rand.New(rand.NewPCG(1, 2)), caps: h.lot(l.ID), code: code}
	if len(p.caps.Gauges) == 0 {
		t.Fatal("the caps were measured with nothing")
	}
	p.before = h.recorded()
	p.was = sight(must(h.svc.World(t.Context(), core.Names{Pallets: []core.PalletCode{code}}, ""))(t).State, []core.PalletCode{code})
	return p
}

func (p *planting) genuine() []porcupine.Operation {
	at := p.pallet(p.code).State.Pallets[p.code].Station
	divide := func(n int) core.Command {
		return core.Command{Station: at, Body: core.Divide{From: p.code, Picks: []core.Pick{{Lot: p.caps.ID, Qty: n}}}}
	}
	gauge := slices.Sorted(func(yield func(string) bool) {
		for id := range p.caps.Gauges {
			if !yield(id) {
				return
			}
		}
	})[0]
	first := newID(p.r)
	caller, req := p.prepared(first, divide(2))
	p.said(p.send(caller, "divide", req))
	if err := p.glance([]core.PalletCode{p.code}); err != nil {
		p.t.Fatal(err)
	}
	p.said(p.ask(newID(p.r), 1, divide(2)))
	p.said(p.send(caller, "divide", req))
	p.said(p.ask(newID(p.r), 1, core.Command{Station: crowd.StationFor(p.book, "final-check", core.Aluminium), Body: core.TakeIn{Pallet: p.code}}))
	p.said(p.ask(newID(p.r), 1, core.Command{Body: core.PlaceHold{Scope: core.HoldGauge, Ref: gauge, Reason: "fell down"}}, "P03"))
	work, at := crowd.Work(p.book, p.pallet(p.code).State, p.caps.ID)
	work.Lots[0].Looked = 1
	p.said(p.ask(newID(p.r), 1, core.Command{Station: at, Body: work}, crowd.Hand(work.Stage)))
	return p.history.ops
}

func (p *planting) prepared(id core.CommandID, c core.Command) (app.Caller, app.Request) {
	caller, err := p.caller(c.Station, nil)
	return must(caller, err)(p.t), must(p.request(id, c, nil))(p.t)
}

func (p *planting) said(_ app.Answer, err error) {
	p.t.Helper()
	if err != nil {
		p.t.Fatal(err)
	}
}

// unaware is what a command would have been told by one who had heard of some of
// the operations before it only.
func (p *planting) unaware(o porcupine.Operation, of ...porcupine.Operation) heard {
	m := p.history.model(p.t, p.before).Init().(*shopWorld)
	for _, x := range of {
		ok, next := p.history.step(m, x.Input, x.Output)
		if !ok {
			p.t.Fatalf("could not have been: %s", p.history.describe(x.Input, x.Output))
		}
		m = next
	}
	j := p.history.decided[o.Input.(core.CommandID)]
	w := j.world
	w.State = m.state
	return heard{text: answerText(core.Decide(w, j.command))}
}

// The checker of races takes a true history and refuses every false one: a lost
// update, a stale look, an answer that changed, work behind a hold.
func TestTheRacesCheckerFindsWhatIsPlanted(t *testing.T) {
	p := plant(t)
	ops := p.genuine()
	if !p.history.check(t, p.before, ops) {
		t.Fatalf("a true history is refused:\n%s", p.history.story(t, p.before, ops))
	}
	for i, want := range map[int]string{firstDivide: `"divided"`, tooMany: `"more-than-there"`, gaugeHeld: `"held"`, workStopped: `"lot-held"`} {
		if said := ops[i].Output.(heard).text; !strings.Contains(said, want) {
			t.Fatalf("operation %d came to %s, want %s", i, said, want)
		}
	}
	meanwhile := func(o, other *porcupine.Operation) { o.Call = other.Call }
	for name, c := range map[string]struct {
		falsify func([]porcupine.Operation)
		holds   bool
	}{
		"nothing": {func([]porcupine.Operation) {}, true},
		"a lost update": {func(o []porcupine.Operation) {
			o[tooMany].Output = p.unaware(o[tooMany])
		}, false},
		"a lost update of two at once": {func(o []porcupine.Operation) {
			o[tooMany].Output = p.unaware(o[tooMany])
			meanwhile(&o[tooMany], &o[firstDivide])
		}, false},
		"a stale look": {func(o []porcupine.Operation) { o[lookAfter].Output = p.was }, false},
		"a look that began before the change it does not show": {func(o []porcupine.Operation) {
			o[lookAfter].Output = p.was
			meanwhile(&o[lookAfter], &o[firstDivide])
		}, true},
		"a look at what never was": {func(o []porcupine.Operation) {
			o[lookAfter].Output = strings.Replace(o[lookAfter].Output.(string), `"qty":1`, `"qty":2`, 1)
		}, false},
		"another answer to a command sent again": {func(o []porcupine.Operation) {
			o[sentAgain].Output = heard{o[tooMany].Output.(heard).text, true}
		}, false},
		"a command sent again and done again": {func(o []porcupine.Operation) {
			o[sentAgain].Output = p.unaware(o[firstDivide])
		}, false},
		"an answer given before it was made": {func(o []porcupine.Operation) {
			o[firstDivide].Output = heard{o[firstDivide].Output.(heard).text, true}
		}, false},
		"work accepted behind a hold": {func(o []porcupine.Operation) {
			if o[workStopped].Output = p.unaware(o[workStopped], o[firstDivide], o[takenIn]); !strings.Contains(o[workStopped].Output.(heard).text, `"signed"`) {
				t.Fatalf("the work would not be done without the hold: %v", o[workStopped].Output)
			}
		}, false},
		"a refusal with another code": {func(o []porcupine.Operation) {
			o[tooMany].Output = heard{text: strings.Replace(o[tooMany].Output.(heard).text, "more-than-there", "lot-not-here", 1)}
		}, false},
		"an event with another count": {func(o []porcupine.Operation) {
			o[firstDivide].Output = heard{text: strings.Replace(o[firstDivide].Output.(heard).text, `"qty":2`, `"qty":1`, 1)}
		}, false},
	} {
		t.Run(name, func(t *testing.T) {
			planted := slices.Clone(ops)
			c.falsify(planted)
			if got := p.history.check(t, p.before, planted); got != c.holds {
				t.Errorf("taken for true: %v\n%s", got, p.history.story(t, p.before, planted))
			}
		})
	}
}
