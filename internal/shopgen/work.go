package shopgen

import (
	"fmt"
	"math"
	"strings"

	"tagalong/internal/core"
)

// flaw is how many of a lot turn out bad at a stage, and why.
type flaw struct {
	item core.ItemID
	bad  int
	why  string
}

// sign records a stage on every lot of the pallet that waits for it, at the
// station where the pallet stands.
func (f *floor) sign(p core.PalletCode, name core.StageName, flaws ...flaw) (core.Event, error) {
	at := f.state.Pallets[p].Station
	stage, ok := f.book.Table.Stage(name)
	if !ok {
		return core.Event{}, fmt.Errorf("no stage %s", name)
	}
	done := core.SignOff{Pallet: p, Stage: name, PrintSeen: lastPrint(f.state.Pallets[p])}
	var lots []core.Lot
	var first core.Step
	colour := ""
	for _, l := range f.lots(p) {
		step, ok := f.waitsFor(l, name)
		if !ok {
			continue
		}
		if name == "coat" {
			if c := f.colour(l, step); colour == "" {
				colour = c
			} else if c != colour {
				continue // another colour is another run
			}
		}
		if len(lots) == 0 {
			first = step
		}
		lots = append(lots, l)
		w := core.LotWork{Lot: l.ID, Good: l.Qty}
		if plan, sampled := core.PlanOf(l, step); sampled {
			w.Looked = min(plan.Size, l.Qty)
		}
		for _, x := range flaws {
			if x.item == l.Item.Item {
				w.Good, w.Bad, w.Why = l.Qty-x.bad, x.bad, x.why
			}
		}
		if w.Good > 0 {
			w.Checks = f.readings(core.StepOf(f.book, f.state.Orders[l.Owner.Order], l, step))
		}
		done.Lots = append(done.Lots, w)
	}
	if len(lots) == 0 {
		return core.Event{}, fmt.Errorf("nothing on %s waits for %s", p, name)
	}
	who, err := f.who(at, stage, first, lots)
	if err != nil {
		return core.Event{}, err
	}
	if done.Inputs, err = f.inputs(stage, colour); err != nil {
		return core.Event{}, err
	}
	f.pass(4, 9)
	return f.do(at, done, who)
}

// waitsFor is the step a lot waits for, if it is of the stage.
func (f *floor) waitsFor(l core.Lot, name core.StageName) (core.Step, bool) {
	if _, held := core.HeldBy(f.state, l); held {
		return core.Step{}, false
	}
	for _, s := range core.NextSteps(f.book, l) {
		if s.Stage == name {
			return s, true
		}
	}
	return core.Step{}, false
}

// colour is what a coat step sprays.
func (f *floor) colour(l core.Lot, s core.Step) string {
	rev := f.book.Items[l.Item]
	switch {
	case s.Colour != "":
		return s.Colour
	case s.Face != "":
		return rev.Colour(s.Face)
	case len(rev.Faces()) > 0:
		return rev.Colour(rev.Faces()[0])
	}
	return ""
}

// readings answers a step's check: ticks met, measures near the nominal, with
// the first gauge of the kind whose calibration holds.
func (f *floor) readings(step core.Step) []core.CheckReading {
	var out []core.CheckReading
	for _, c := range step.Checks {
		r := core.CheckReading{Characteristic: c.ID, Met: true}
		if c.Kind == core.Measure {
			v := f.near(c)
			r.Value, r.Instrument = &v, f.gauge(c.Instrument)
		}
		out = append(out, r)
	}
	return out
}

// near is a believable reading within the middle half of the limits.
func (f *floor) near(c core.Characteristic) float64 {
	lo, hi := math.Inf(-1), math.Inf(1)
	if c.Lower != nil {
		lo = *c.Lower
	}
	if c.Upper != nil {
		hi = *c.Upper
	}
	mid := (lo + hi) / 2
	if c.Nominal != nil {
		mid = *c.Nominal
	}
	spread := min(mid-lo, hi-mid) / 2
	if math.IsInf(spread, 0) || spread < 0 {
		spread = 0
	}
	v := mid + (f.rng.Float64()*2-1)*spread
	digits := 10.0
	if spread > 5 {
		digits = 1
	}
	return math.Round(v*digits) / digits
}

func (f *floor) gauge(kind string) string {
	best := ""
	for id, g := range f.book.Instruments {
		if g.Kind == kind && !g.DueBy.Before(f.today()) && (best == "" || id < best) {
			best = id
		}
	}
	return best
}

// noBatch says that nothing of a kind is left that has not gone out of date.
type noBatch struct{ kind, colour string }

func (n noBatch) Error() string {
	return strings.TrimSpace("no batch of "+n.kind+" "+n.colour) + " in date"
}

// inputs picks, of each kind of batch a stage uses up, the first in date.
func (f *floor) inputs(stage core.Stage, colour string) ([]string, error) {
	var out []string
	for _, kind := range stage.Inputs {
		best := ""
		for no, b := range f.book.Batches {
			if b.Kind == kind && (kind != "powder" || b.Colour == colour) && !b.Expires.Before(f.today()) && (best == "" || no < best) {
				best = no
			}
		}
		if best == "" {
			return nil, noBatch{kind, colour}
		}
		out = append(out, best)
	}
	return out, nil
}

// stationFor is where a stage is done on a lot: here if this station does it,
// else the one with the fewest pallets.
func (f *floor) stationFor(name core.StageName, l core.Lot, here core.StationID) (core.StationID, error) {
	stage, _ := f.book.Table.Stage(name)
	suits := func(st core.Station) bool {
		m := f.book.Items[l.Item].Metal
		return st.Does(name) && (!stage.Abrades || st.Metal == "" || m == "" || (st.Metal == core.Aluminium) == (m == core.Aluminium))
	}
	if suits(f.book.Stations[here]) {
		return here, nil
	}
	best, fewest := core.StationID(""), 0
	for id, st := range f.book.Stations {
		if !suits(st) {
			continue
		}
		n := f.crowd(id)*1000 + st.Order
		if best == "" || n < fewest {
			best, fewest = id, n
		}
	}
	if best == "" {
		return "", fmt.Errorf("no station does %s on %s", name, l.Item)
	}
	return best, nil
}

// crowd counts the pallets at a station or on their way to it.
func (f *floor) crowd(id core.StationID) int {
	if f.crowds != nil {
		return f.crowds[id]
	}
	n := 0
	for code, p := range f.state.Pallets {
		if (p.Station == id || p.Bound == id) && len(f.lots(code)) > 0 {
			n++
		}
	}
	return n
}
