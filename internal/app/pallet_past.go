package app

import (
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"tagalong/internal/core"
	"tagalong/internal/words"
)

// pastLooked is how many of a pallet's latest events its page looks at: enough
// for two stays at stations, each with its take-in, sign-offs, prints and
// hand-over.
const pastLooked = 40

// PalletNote is what somebody wrote for whoever comes next.
type PalletNote struct {
	Text    string
	At      time.Time // in the shop's zone
	By      string    // name; "" where nobody signed
	Station string    // name
}

// StepDone is the last step a lot has behind it, where the asking station does
// it: what a person is told who scans a pallet again.
type StepDone struct {
	Title   string // the stage's
	Why     words.Text
	At      time.Time // in the shop's zone; zero: not among the pallet's latest events
	By      string
	Station string // name of the station that signed it
}

// notesOn lists the notes that stand on a pallet, newest first, from its latest
// events, oldest first. A note stands while the pallet is at the station it was
// written at, on its way, and at the next station; leaving that one ends it,
// and so does a correction of what it was written with.
func notesOn(b *core.Book, row core.PalletRow, past []Recorded) []PalletNote {
	stays := 2 // this one and the one before
	if row.Bound != "" {
		stays = 1 // on its way: the one it comes from
	}
	var out []PalletNote
	takenBack := map[core.EventID]bool{}
	for _, e := range slices.Backward(past) {
		if e.Corrects != "" {
			takenBack[e.Corrects] = true
		}
		if text := strings.TrimSpace(e.Note); text != "" && writes(e.Kind) && !takenBack[e.ID] {
			out = append(out, PalletNote{text, inZone(e.Happened, b), signerOf(b, e.Event), stationName(b, e.Station)})
		}
		if e.Kind == core.EvTakenIn {
			if stays--; stays == 0 {
				break
			}
		}
	}
	return out
}

// writes reports whether the note of such an event is a word to the next one.
func writes(k core.EventKind) bool {
	return k == core.EvSigned || k == core.EvHandedOver || k == core.EvAssembled
}

func signerOf(b *core.Book, e core.Event) string {
	if len(e.Signed) == 0 {
		return ""
	}
	return PersonName(b, e.Signed[0].Person)
}

// lookBack adds to a page what the asking station did to the lots, what keeps
// lots from what it does later, and why the pallet would not be taken in.
func (p *PalletPage) lookBack(w core.World, past []Recorded) {
	for i := range p.Lots {
		l := &p.Lots[i]
		if l.Here {
			continue
		}
		if last, ok := lastStep(w.Book, l.Lot); ok && p.At.Does(last.Stage) {
			l.Done = stepDone(w.Book, *l, last, past)
		} else if p.Here {
			l.bar(w, p.At)
		}
	}
	if !p.Here && !p.Empty() && p.At.ID != "" {
		p.Turned = core.Decide(w, core.Command{Station: p.At.ID, Happened: w.Now, Body: core.TakeIn{Pallet: p.Pallet.Code}}).Refusal
		if p.Turned != nil {
			p.TurnedWhy = turnedText(w.Book, *p)
		}
	}
}

// lastStep is the step a lot has done last by the order of its route.
func lastStep(b *core.Book, l core.Lot) (core.Step, bool) {
	if l.Rework != nil && len(l.Rework.Done) == 0 {
		l.Rework = nil // sent over it, and nothing of it done: the main route's step is the last
	}
	route, done := core.UnderWay(b, l)
	for _, s := range slices.Backward(route.Steps) {
		if slices.Contains(done, s.No) {
			return s, true
		}
	}
	return core.Step{}, false
}

// stepDone says of a done step what a second sign-off of it would be refused
// with, and when and by whom it was signed, where the pallet's events know.
func stepDone(b *core.Book, l LotView, step core.Step, past []Recorded) *StepDone {
	d := &StepDone{Title: stageTitle(b, step.Stage)}
	d.Why = words.Refusal("step-done", lotParams(l, "stage", d.Title, "next", nextTitle(b, l)))
	for _, e := range slices.Backward(past) {
		mine := func(c core.LotCount) bool {
			return c.Good > 0 && (c.Lot == l.Lot.ID || slices.Contains(l.Lot.Parents, c.Lot))
		}
		if (e.Kind == core.EvSigned || e.Kind == core.EvAssembled) && e.Stage == step.Stage && slices.ContainsFunc(e.Lots, mine) {
			d.At, d.By, d.Station = inZone(e.Happened, b), signerOf(b, e.Event), stationName(b, e.Station)
			break
		}
	}
	return d
}

// bar judges the first undone step of the lot that the station does, though
// another comes before it: something before it was skipped or taken back.
func (l *LotView) bar(w core.World, at core.Station) {
	route, done := core.UnderWay(w.Book, l.Lot)
	i := slices.IndexFunc(route.Steps, func(s core.Step) bool { return at.Does(s.Stage) && !slices.Contains(done, s.No) })
	if l.Ended || i < 0 {
		return
	}
	stage, ok := w.Book.Table.Stage(route.Steps[i].Stage)
	if !ok {
		return
	}
	body := core.SignOff{Pallet: core.PalletCode(l.Lot.Place.Ref), Stage: stage.Name, Lots: []core.LotWork{{Lot: l.Lot.ID, Good: l.Lot.Qty}}}
	for _, in := range inputsOf(w, Task{Stage: stage, Lots: []LotView{{Revision: l.Revision, Step: route.Steps[i]}}}) {
		if len(in.Batches) > 0 {
			body.Inputs = append(body.Inputs, in.Batches[0].Batch)
		}
	}
	// The batch and the signature are asked of a person; what they would be refused for is not told here.
	r := core.Decide(w, core.Command{Station: at.ID, Happened: w.Now, Body: body}).Refusal
	if r == nil || !slices.Contains(r.Lots, l.Lot.ID) || r.Code == "signature-missing" {
		return
	}
	l.Bar, l.BarWhy = r, words.Refusal(r.Code, r.Params)
}

// turnedText says why a pallet would not be taken in. A station that has just
// done its work says so; parts at the end of their route belong where their
// unit is built, which the refusal of the rules leaves open.
func turnedText(b *core.Book, p PalletPage) words.Text {
	r := *p.Turned
	if r.Code != "nothing-to-do" {
		return words.Refusal(r.Code, r.Params)
	}
	params := maps.Clone(r.Params)
	if params["stage"] == "" {
		params["stage"] = nextTitle(b, p.Lots[0])
	}
	var names []string // of those that suit the metal too; names have commas in them
	for _, s := range p.Next {
		names = append(names, s.Name)
	}
	if len(names) > 0 {
		params["stations"] = strings.Join(names, "; ")
	}
	text := words.Refusal(r.Code, params)
	if i := slices.IndexFunc(p.Lots, func(l LotView) bool { return l.Done != nil }); i >= 0 {
		text.Title = p.Lots[i].Done.Why.Title
	}
	return text
}

// nextTitle names what a lot waits for: its next step, or at the end of its
// route the making of the unit it goes into.
func nextTitle(b *core.Book, l LotView) string {
	if !l.Ended {
		return l.Title
	}
	if stages := usedBy(b, l.Lot.Item); len(stages) > 0 {
		return stageTitle(b, stages[0])
	}
	return "the end of the route"
}

// lotParams are the parameters of a refusal about all parts of a lot.
func lotParams(l LotView, pairs ...string) map[string]string {
	out := map[string]string{
		"count": strconv.Itoa(l.Lot.Qty), "name": l.Revision.Name, "item": string(l.Lot.Item.Item), "pallet": l.Lot.Place.Ref,
	}
	for i := 0; i+1 < len(pairs); i += 2 {
		out[pairs[i]] = pairs[i+1]
	}
	return out
}
