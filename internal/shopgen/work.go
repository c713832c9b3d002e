package shopgen

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

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
		for _, x := range flaws {
			if x.item == l.Item.Item {
				w.Good, w.Bad, w.Why = l.Qty-x.bad, x.bad, x.why
			}
		}
		if w.Good > 0 {
			w.Checks = f.readings(step)
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
	case len(rev.Finish) > 0:
		return rev.Finish[0].Colour
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
			return nil, fmt.Errorf("no %s %s in date", kind, colour)
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
	n := 0
	for code, p := range f.state.Pallets {
		if (p.Station == id || p.Bound == id) && len(f.lots(code)) > 0 {
			n++
		}
	}
	return n
}

// job is a pallet on its way: every lot goes on until its stop, then the pallet
// goes to a last station.
type job struct {
	pallet core.PalletCode
	stop   func(core.Lot, core.Step) bool // true: this step is not done; nil: none
	to     core.StationID                 // empty: stays
	onWay  bool                           // handed over to it and not taken in
	flaws  map[core.StageName][]flaw
}

// before stops at the first step of a stage.
func before(name core.StageName) func(core.Lot, core.Step) bool {
	return func(_ core.Lot, s core.Step) bool { return s.Stage == name }
}

// beforeStep stops at a step's number.
func beforeStep(no int) func(core.Lot, core.Step) bool {
	return func(l core.Lot, s core.Step) bool { return s.No >= no }
}

// run works on jobs side by side, one turn each, until all have come to their
// stops.
func (f *floor) run(jobs ...*job) error {
	for len(jobs) > 0 {
		var left []*job
		for _, j := range jobs {
			done, err := f.turn(j)
			if err != nil {
				return fmt.Errorf("pallet %s: %w", j.pallet, err)
			}
			if !done {
				left = append(left, j)
			}
		}
		jobs = left
	}
	return nil
}

// coating are stages that follow on each other without a break.
var coating = []core.StageName{"pretreat", "key-and-clean", "mask", "coat"}

// turn does a pallet's next step; done when none is left to do.
func (f *floor) turn(j *job) (done bool, err error) {
	for {
		l, step, ok := f.first(j)
		if !ok {
			return true, f.park(j)
		}
		if step.Stage == "pretreat" || step.Stage == "key-and-clean" {
			f.clock.Together(100 * time.Minute)
		}
		at, err := f.stationFor(step.Stage, l, f.state.Pallets[j.pallet].Station)
		if err != nil {
			return false, err
		}
		if err := f.bring(j.pallet, at); err != nil {
			return false, err
		}
		if _, err := f.sign(j.pallet, step.Stage, j.flaws[step.Stage]...); err != nil {
			return false, err
		}
		if !slices.Contains(coating, step.Stage) {
			return false, nil
		}
	}
}

// first is the lot to work on next, and its step: of those that may go on, the
// one whose stage comes first.
func (f *floor) first(j *job) (core.Lot, core.Step, bool) {
	var lot core.Lot
	var step core.Step
	found := false
	for _, l := range f.lots(j.pallet) {
		if _, held := core.HeldBy(f.state, l); held {
			continue
		}
		next := core.NextSteps(f.book, l)
		if len(next) == 0 || j.stop != nil && j.stop(l, next[0]) {
			continue
		}
		if rank := f.rank(next[0].Stage); !found || rank < f.rank(step.Stage) {
			lot, step, found = l, next[0], true
		}
	}
	return lot, step, found
}

func (f *floor) rank(n core.StageName) int { return slices.Index(f.book.Table.Order, n) }

// park takes a pallet to where its job leaves it.
func (f *floor) park(j *job) error {
	row := f.state.Pallets[j.pallet]
	if err := f.print(j.pallet, row.Station); err != nil || j.to == "" {
		return err
	}
	if j.onWay {
		return f.sendOn(j.pallet, j.to)
	}
	return f.bring(j.pallet, j.to)
}

// cut takes the first uncut sheet that suits a nest to a laser and cuts it.
func (f *floor) cut(nest string, laser, bench core.StationID) (core.PalletCode, error) {
	sheet, err := f.lay(nest, laser)
	if err != nil {
		return "", err
	}
	if _, err := f.sign(sheet, "cut"); err != nil {
		return "", err
	}
	return sheet, f.bring(sheet, bench)
}

// lay takes the first uncut sheet that suits a nest to a laser.
func (f *floor) lay(nest string, laser core.StationID) (core.PalletCode, error) {
	n, ok := f.state.Nests[nest]
	if !ok {
		return "", fmt.Errorf("no nest %s", nest)
	}
	var best core.PalletRow
	for code, p := range f.state.Pallets {
		if p.Kind != core.SheetCarrier || !f.book.Stations[p.Station].Does("goods-in") || best.Code != "" && strings.Compare(best.Label, p.Label) < 0 {
			continue
		}
		for _, l := range f.lots(code) {
			if _, waits := f.waitsFor(l, "cut"); waits && l.Item == n.Material {
				best = p
			}
		}
	}
	if best.Code == "" {
		return "", fmt.Errorf("no uncut %s for nest %s", n.Material, nest)
	}
	f.pass(2, 6)
	return best.Code, f.bring(best.Code, laser)
}

// part says where one line of a nest goes: a letter for a fresh pallet, or the
// code of one that is there.
type part struct {
	line    int
	to      string
	damaged int
}

// separate ticks a nest off at the bench where its cut sheet lies, and prints
// the travellers. It returns the pallet of each letter.
func (f *floor) separate(sheet core.PalletCode, nest string, parts ...part) (map[string]core.PalletCode, error) {
	n := f.state.Nests[nest]
	c := core.Separate{Sheet: sheet, Nest: nest}
	var letters []string
	for _, x := range parts {
		i := slices.IndexFunc(n.Parts, func(p core.NestPart) bool { return p.No == x.line })
		if i < 0 {
			return nil, fmt.Errorf("nest %s has no line %d", nest, x.line)
		}
		to := core.PalletCode(x.to)
		if len(x.to) == 1 {
			to = core.PalletCode("new:" + x.to)
			if !slices.Contains(letters, x.to) {
				letters = append(letters, x.to)
			}
		}
		c.Ticks = append(c.Ticks, core.PartTick{Line: x.line, Good: n.Parts[i].Qty - x.damaged, Damaged: x.damaged, To: to})
	}
	at := f.state.Pallets[sheet].Station
	stage, _ := f.book.Table.Stage("separate")
	who, err := f.who(at, stage, core.Step{}, nil)
	if err != nil {
		return nil, err
	}
	f.pass(8, 16)
	e, err := f.do(at, c, who)
	if err != nil {
		return nil, fmt.Errorf("nest %s: %w", nest, err)
	}
	fresh := map[string]core.PalletCode{}
	for _, effect := range e.Effects {
		p := effect.PalletPut
		if p == nil || p.Version != 1 || p.Kind != core.PalletCarrier || len(fresh) == len(letters) {
			continue
		}
		fresh[letters[len(fresh)]] = p.Code
	}
	for _, code := range e.Pallets {
		if len(f.lots(code)) > 0 {
			if err := f.print(code, at); err != nil {
				return nil, err
			}
		}
	}
	return fresh, nil
}

// make gathers one unit of an assembly from the pallets at a bench and signs
// it. To is the pallet it goes on; empty for a fresh one. It returns the pallet.
func (f *floor) make(at core.StationID, item core.ItemID, owner core.Owner, to core.PalletCode) (core.PalletCode, error) {
	build, err := f.gather(at, item, owner)
	if err != nil {
		return "", err
	}
	return f.assemble(at, build, to)
}

// welding is the command that signs a gathered unit.
func (f *floor) welding(build core.Build, to core.PalletCode) (core.Assemble, error) {
	step, stage := f.firstStep(build.Item)
	inputs, err := f.inputs(stage, "")
	return core.Assemble{Build: build.Code, To: to, Checks: f.readings(step), Inputs: inputs}, err
}

func (f *floor) firstStep(item core.ItemRev) (core.Step, core.Stage) {
	step := f.book.Routes[f.book.Items[item].Route].Steps[0]
	stage, _ := f.book.Table.Stage(step.Stage)
	return step, stage
}

func (f *floor) assemble(at core.StationID, build core.Build, to core.PalletCode) (core.PalletCode, error) {
	c, err := f.welding(build, to)
	if err != nil {
		return "", err
	}
	step, stage := f.firstStep(build.Item)
	who, err := f.who(at, stage, step, []core.Lot{{Item: build.Item}})
	if err != nil {
		return "", err
	}
	f.pass(15, 30)
	e, err := f.do(at, c, who)
	if err != nil {
		return "", err
	}
	for _, effect := range e.Effects {
		if m := effect.Moved; m != nil && m.From.Kind == core.Made {
			return core.PalletCode(m.To.Ref), f.print(core.PalletCode(m.To.Ref), at)
		}
	}
	return "", fmt.Errorf("assembling %s made nothing", build.Item)
}

// allOf is a sign-off of everything on a pallet, whatever it waits for: what
// somebody in a hurry sends.
func (f *floor) allOf(p core.PalletCode, name core.StageName) core.SignOff {
	c := core.SignOff{Pallet: p, Stage: name, PrintSeen: lastPrint(f.state.Pallets[p])}
	for _, l := range f.lots(p) {
		c.Lots = append(c.Lots, core.LotWork{Lot: l.ID, Good: l.Qty})
	}
	return c
}

// report reports one part of a lot; it goes to a quarantine pallet. Both
// travellers are printed.
func (f *floor) report(at core.StationID, l core.Lot, what string, who core.PersonID) error {
	from := core.PalletCode(l.Place.Ref)
	e, err := f.do(at, core.ReportProblem{Pallet: from, Lot: l.ID, Qty: 1, What: what}, who)
	if err != nil {
		return err
	}
	for _, code := range e.Pallets {
		if len(f.lots(code)) == 0 {
			continue
		}
		if err := f.print(code, at); err != nil {
			return err
		}
	}
	return nil
}

// splitOff moves every lot of an item from a pallet to a fresh one.
func (f *floor) splitOff(p core.PalletCode, at core.StationID, item core.ItemID) (core.PalletCode, error) {
	c := core.Divide{From: p, PrintSeen: lastPrint(f.state.Pallets[p])}
	for _, l := range f.lots(p) {
		if l.Item.Item == item {
			c.Picks = append(c.Picks, core.Pick{Lot: l.ID, Qty: l.Qty})
		}
	}
	f.pass(4, 8)
	e, err := f.do(at, c)
	if err != nil {
		return "", err
	}
	for _, code := range e.Pallets {
		if code != p {
			if err := f.print(p, at); err != nil {
				return "", err
			}
			return code, f.print(code, at)
		}
	}
	return "", fmt.Errorf("splitting %s made no pallet", p)
}

// gather collects what is at a bench for the next unit of an item.
func (f *floor) gather(at core.StationID, item core.ItemID, owner core.Owner) (core.Build, error) {
	f.pass(4, 10)
	e, err := f.do(at, core.Gather{Item: f.rev(item), Owner: owner})
	if err != nil {
		return core.Build{}, err
	}
	return f.state.Builds[core.BuildCode(e.Ref)], nil
}

// rev is an item at the one revision the demo has of it.
func (f *floor) rev(item core.ItemID) core.ItemRev {
	for r := range f.book.Items {
		if r.Item == item {
			return r
		}
	}
	return core.ItemRev{Item: item}
}
