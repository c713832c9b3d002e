package app

import (
	"cmp"
	"context"
	"slices"
	"time"

	"tagalong/internal/core"
)

// qualityRefusals is how many of the latest refusals the quality page lists.
const qualityRefusals = 60

// QualityPage is what waits for somebody to decide: open problems, open holds,
// and what was refused lately.
type QualityPage struct {
	AsOf     time.Time
	Problems []QualityProblem // oldest first
	Holds    []QualityHold    // oldest first, without those that go with a problem
	Missing  []MissingRow     // what nobody can find, the latest first
	Refusals []HistoryRefusal // latest first
	Arose    []core.Stage     // where a problem may have come about, in the order of work
	Rework   []core.Route     // rework routes, the newest version of each
	Gauges   []core.Instrument
}

// QualityProblem is an open nonconformity with what a disposition needs to know.
type QualityProblem struct {
	core.Problem
	Name    string // of the item
	Item    core.ItemRev
	Owner   core.Owner
	Pallet  core.PalletCode
	Now     int    // parts of the lot now; 0 where it is no longer in the shop
	By      string // name of the reporter
	Stage   core.Stage
	Station string
	Steps   []QualityStep // of the main route, to rejoin at
	Rejoin  int           // suggested: the step it was found at
	Facts   []string      // names of facts that hold, which may be found not to
	Coated  []core.Face   // faces that carry a coat
	Inside  []LatePart    // components of a made unit, which may be changed for others
}

// QualityStep is a step of a route with its title.
type QualityStep struct {
	No    int
	Title string
}

// QualityHold is an open hold with names put in.
type QualityHold struct {
	core.Hold
	Thing string // "pallet P4K7 M2QX"
	Who   string
}

// Quality reads the quality page.
func (s *Service) Quality(ctx context.Context) (QualityPage, error) {
	b, err := s.Book(ctx)
	if err != nil {
		return QualityPage{}, err
	}
	p := QualityPage{AsOf: inZone(s.Clock(), b), Rework: reworkRoutes(b), Gauges: gauges(b), Arose: stagesOf(b)}
	problems, err := s.Store.Problems(ctx)
	if err != nil {
		return p, err
	}
	lots, err := s.problemLots(ctx, problems)
	if err != nil {
		return p, err
	}
	for _, x := range problems {
		p.Problems = append(p.Problems, qualityProblem(b, x, lots[x.Lot], p.AsOf))
	}
	if err := s.insideUnits(ctx, p.Problems, lots); err != nil {
		return p, err
	}
	holds, err := s.Store.OpenHolds(ctx)
	if err != nil {
		return p, err
	}
	for _, h := range holds {
		if h.Problem == "" { // the others go with their problem
			h.At = inZone(h.At, b)
			p.Holds = append(p.Holds, QualityHold{h, HeldThing(b, h), PersonName(b, h.By)})
		}
	}
	if p.Missing, err = s.Missing(ctx); err != nil {
		return p, err
	}
	refusals, err := s.Store.Refusals(ctx, RefusalQuery{Limit: qualityRefusals})
	if err != nil {
		return p, err
	}
	for _, r := range refusals {
		p.Refusals = append(p.Refusals, historyRefusal(b, r))
	}
	slices.SortStableFunc(p.Refusals, func(x, y HistoryRefusal) int { return y.At.Compare(x.At) })
	return p, nil
}

func (s *Service) problemLots(ctx context.Context, problems []core.Problem) (map[core.LotID]core.Lot, error) {
	var ids []core.LotID
	for _, x := range problems {
		ids = append(ids, x.Lot)
	}
	out := map[core.LotID]core.Lot{}
	if len(ids) == 0 {
		return out, nil
	}
	lots, err := s.Store.Lots(ctx, ids)
	for _, l := range lots {
		out[l.ID] = l
	}
	return out, err
}

// insideUnits adds what is inside the made units that problems are open on.
func (s *Service) insideUnits(ctx context.Context, problems []QualityProblem, lots map[core.LotID]core.Lot) error {
	var units []core.LotID
	for _, p := range problems {
		if l := lots[p.Lot]; l.Unit != "" && l.Live() {
			units = append(units, l.ID)
		}
	}
	if len(units) == 0 {
		return nil
	}
	w, err := s.World(ctx, core.Names{Lots: units, Inside: units}, "")
	if err != nil {
		return err
	}
	for i, p := range problems {
		if !slices.Contains(units, p.Lot) {
			continue
		}
		for _, l := range core.Components(w.State, w.State.Lots[p.Lot]) {
			problems[i].Inside = append(problems[i].Inside, latePart(w, l))
		}
	}
	return nil
}

func qualityProblem(b *core.Book, x core.Problem, l core.Lot, now time.Time) QualityProblem {
	x.At = inZone(x.At, b)
	q := QualityProblem{
		Problem: x, Name: itemName(b, l.Item), Item: l.Item, Owner: l.Owner, Now: l.Qty, By: PersonName(b, x.By),
		Station: stationName(b, x.Station),
	}
	q.Stage, _ = b.Table.Stage(x.Stage)
	if l.Place.Kind == core.OnPallet {
		q.Pallet = core.PalletCode(l.Place.Ref)
	}
	for _, step := range b.Routes[l.Route].Steps {
		st, _ := b.Table.Stage(step.Stage)
		q.Steps = append(q.Steps, QualityStep{step.No, st.Title})
		if step.Stage == x.Stage && (q.Rejoin == 0 || l.DoneStep(q.Rejoin)) { // the first undone one, else the last
			q.Rejoin = step.No
		}
	}
	if next := core.NextSteps(b, l); q.Rejoin == 0 && len(next) > 0 { // found at no step of its own, such as at its site
		q.Rejoin = next[0].No
	}
	for f := range l.Facts {
		if l.Facts.At(f, now) == core.No {
			continue
		}
		if !slices.Contains(q.Facts, f.Name) {
			q.Facts = append(q.Facts, f.Name)
		}
		if f.Name == core.Coated {
			q.Coated = append(q.Coated, core.Face(f.Of))
		}
	}
	slices.Sort(q.Facts)
	slices.Sort(q.Coated)
	return q
}

// reworkRoutes lists the newest version of each rework route, by name.
func reworkRoutes(b *core.Book) []core.Route {
	newest := map[string]core.Route{}
	for _, r := range b.Routes {
		if r.Rework && r.Version > newest[r.Name].Version {
			newest[r.Name] = r
		}
	}
	var out []core.Route
	for _, r := range newest {
		out = append(out, r)
	}
	slices.SortFunc(out, func(x, y core.Route) int { return cmp.Compare(x.Name, y.Name) })
	return out
}

func gauges(b *core.Book) []core.Instrument {
	var out []core.Instrument
	for _, g := range b.Instruments {
		out = append(out, g)
	}
	slices.SortFunc(out, func(x, y core.Instrument) int { return cmp.Compare(x.ID, y.ID) })
	return out
}
