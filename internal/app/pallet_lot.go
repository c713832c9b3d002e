package app

import (
	"slices"
	"strconv"

	"tagalong/internal/core"
	"tagalong/internal/words"
)

// LotView is one lot of a pallet with its next step.
type LotView struct {
	Letter   string // as on the traveller
	Lot      core.Lot
	Revision core.Revision
	Name     string // of the item
	Customer string // "" for stock
	Site     string
	MassEach float64 // kg; 0: not known
	Strip    []StripMark

	Step    core.Step
	Stage   core.Stage
	Title   string // the stage's, or its name
	Colour  string // to be sprayed, with the face
	Here    bool   // the station asked about does this stage
	Rework  bool
	Ended   bool // nothing left on its route
	Waits   string
	Refusal *core.Refusal // what stops the step now, whoever signs
	Why     words.Text    // its text; zero without one
	Makers  []string      // names of those whose work the signer must not have shared in
	After   string        // title of the step that follows; "" for the last

	// Of a lot whose next step is another station's, one of the two:
	Done   *StepDone     // the station asked about did the last one
	Bar    *core.Refusal // what keeps the lot from the step the station would do
	BarWhy words.Text    // its text
}

// Checks lists the step's characteristics page by page.
func (l LotView) Checks() [][]core.Characteristic { return CheckPages(l.Step.Checks) }

// Owner is the order line, or stock, as people say it.
func (l LotView) Owner() string {
	if l.Lot.For != "" {
		return "stock, kept for unit " + spaced(string(l.Lot.For))
	}
	if l.Lot.Owner.Stock() {
		return "stock"
	}
	return "order " + l.Lot.Owner.Order + ", line " + strconv.Itoa(l.Lot.Owner.Line)
}

func newLotView(w core.World, p core.Prospect, letter string) LotView {
	b, l := w.Book, p.Lot
	v := LotView{
		Letter: letter, Lot: l, Revision: b.Items[l.Item], Name: itemName(b, l.Item),
		Strip: strip(b, l), Step: p.Step, Stage: p.Stage, Title: stageTitle(b, p.Step.Stage),
		Here: p.Here, Rework: p.Rework, Ended: p.Ended, Refusal: p.Refusal,
	}
	v.MassEach = MassEach(v.Revision)
	if o, ok := w.State.Orders[l.Owner.Order]; ok {
		v.Customer, v.Site = o.Customer, o.Site
	}
	if p.Step.Face != "" {
		v.Colour = string(p.Step.Face)
		if c := colourOf(v.Revision, p.Step); c != "" {
			v.Colour = c + ", " + string(p.Step.Face)
		}
	} else if p.Step.Place != "" {
		v.Colour = p.Step.Place
	}
	if p.Refusal != nil {
		v.Why = words.Refusal(p.Refusal.Code, p.Refusal.Params)
	}
	if work := p.Stage.NotMakerOf; work != "" {
		for _, id := range l.Makers[work] {
			v.Makers = append(v.Makers, PersonName(b, id))
		}
	}
	if next, ok := stepAfter(b, l, p.Step); ok {
		v.After = stageTitle(b, next.Stage)
	}
	return v
}

// colourOf is the colour a step sprays: its own, else the revision's for its
// face, or for the first face asked where the step names none.
func colourOf(r core.Revision, s core.Step) string {
	switch {
	case s.Colour != "":
		return s.Colour
	case s.Face == "" && len(r.Faces()) > 0:
		return r.Colour(r.Faces()[0])
	}
	return r.Colour(s.Face)
}

// stepAfter is the step a lot comes to once the given one is done; a rework
// route that ends leads back to where it joins the main route.
func stepAfter(b *core.Book, l core.Lot, now core.Step) (core.Step, bool) {
	if l.Rework != nil {
		r := *l.Rework
		r.Done = append(slices.Clone(r.Done), now.No)
		l.Rework = &r
		if next := core.NextSteps(b, l); len(next) > 0 {
			return next[0], true
		}
		return b.Routes[l.Route].Step(r.Rejoin)
	}
	l.Done = append(slices.Clone(l.Done), now.No)
	if next := core.NextSteps(b, l); len(next) > 0 {
		return next[0], true
	}
	return core.Step{}, false
}
