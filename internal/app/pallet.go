package app

import (
	"context"
	"maps"
	"slices"
	"strings"

	"tagalong/internal/core"
	"tagalong/internal/words"
)

// PalletPage is one pallet as a station sees it: what it carries, what this
// station may do with it now, and what stops it.
type PalletPage struct {
	Pallet core.PalletRow
	At     core.Station // the station that asks
	Here   bool         // taken in at At
	Coming bool         // handed over to At, not yet taken in
	Place  string       // where it is: "at weld bench 2, slot C4"

	Print PrintJudgement
	Lots  []LotView // by letter
	Tasks []Task    // what At may do, one for each step that lots wait for
	Holds []core.Hold
	// Problems are open ones about lots on the pallet.
	Problems []core.Problem
	GoneTo   []GoneTo // of an emptied pallet
	Mass     float64  // kg of all parts; 0: not known of one of them
	Next     []StationChoice
	Nests    []core.Nest // of a sheet or bar: what it may be cut for
	// Mounted is the belt or disc at the station now: the one on record, or the
	// one that was named; zero where neither is.
	Mounted core.Abrasive
	Notes   []PalletNote   // for whoever comes next, newest first
	Alike   [][]core.LotID // lots that may be made one as they are; see [core.Alike]

	Turned    *core.Refusal // what taking it in at At would be refused with
	TurnedWhy words.Text    // its text; what At has just done to it is told first
}

// Empty reports whether nothing is on the pallet any more.
func (p PalletPage) Empty() bool { return len(p.Lots) == 0 }

// Parts counts the parts on it.
func (p PalletPage) Parts() int {
	n := 0
	for _, l := range p.Lots {
		n += l.Lot.Qty
	}
	return n
}

// Task finds the task with a key; the first where there is none of it.
func (p PalletPage) Task(key string) (Task, bool) {
	for _, t := range p.Tasks {
		if t.Key() == key {
			return t, true
		}
	}
	if len(p.Tasks) == 0 {
		return Task{}, false
	}
	return p.Tasks[0], true
}

// GoneTo is a pallet that took parts of an emptied one, and where it is now.
type GoneTo struct {
	Code  core.PalletCode
	Place string
}

// StationChoice is a station a pallet may be sent to.
type StationChoice struct {
	ID    core.StationID
	Name  string
	Stage string // what it would do, as a title
}

// PalletPage reads a pallet for the caller's station. Print is the number of
// the print that was scanned; 0: a typed code. Mounted is the belt or disc that
// somebody says is mounted there; empty: the one on record. The error is
// ErrNotFound for a code that names no pallet.
func (s *Service) PalletPage(ctx context.Context, caller Caller, code core.PalletCode, print int, mounted string) (PalletPage, error) {
	names := core.Names{Pallets: []core.PalletCode{code}}
	if mounted != "" {
		names.Abrasives = []string{mounted}
	}
	w, err := s.World(ctx, names, caller.Station)
	if err != nil {
		return PalletPage{}, err
	}
	if mounted != "" {
		w.Book = withMounted(w.Book, caller.Station, mounted)
	}
	row, ok := w.State.Pallets[code]
	if !ok {
		return PalletPage{}, ErrNotFound
	}
	past, err := s.Store.History(ctx, HistoryQuery{Pallet: code, Limit: pastLooked})
	if err != nil {
		return PalletPage{}, err
	}
	p := newPalletPage(w, row, caller.Station, print)
	p.Notes = notesOn(w.Book, row, past)
	p.lookBack(w, past)
	if row.Kind == core.SheetCarrier && !p.Empty() {
		cards, err := s.Store.OpenSheets(ctx)
		if err != nil {
			return PalletPage{}, err
		}
		for _, c := range cards {
			if c.Code == code && c.Nest.ID != "" {
				p.Nests = append(p.Nests, c.Nest)
			}
		}
	}
	if p.Empty() && len(row.GoneTo) > 0 {
		if p.GoneTo, err = s.goneTo(ctx, row); err != nil {
			return PalletPage{}, err
		}
	}
	return p, nil
}

// newPalletPage composes the page from what was loaded; see [core.Look].
func newPalletPage(w core.World, row core.PalletRow, at core.StationID, print int) PalletPage {
	now := inZone(w.Now, w.Book)
	p := PalletPage{
		Pallet: row,
		At:     w.Book.Stations[at],
		Here:   row.Station == at && row.Bound == "" && at != "",
		Coming: row.Bound == at && at != "",
		Place:  palletPlace(w, row, now),
		Print:  judgePrint(w, row, print),
	}
	for i, prospect := range core.Look(w, at, row.Code) {
		p.Lots = append(p.Lots, newLotView(w, prospect, letter(i)))
	}
	for _, l := range p.Lots {
		if l.MassEach <= 0 {
			p.Mass = 0
			break
		}
		p.Mass += l.MassEach * float64(l.Lot.Qty)
	}
	p.Alike = core.Alike(w, row.Code)
	p.Tasks = tasksOf(w, p.Lots)
	p.Next = nextStations(w, p.Lots, at)
	for _, h := range w.State.Holds {
		if h.Open() && slices.ContainsFunc(p.Lots, func(l LotView) bool { return holds(h, l.Lot) }) {
			p.Holds = append(p.Holds, h)
		}
	}
	slices.SortFunc(p.Holds, func(a, b core.Hold) int { return a.At.Compare(b.At) })
	for _, x := range w.State.Problems {
		if x.Open() && slices.ContainsFunc(p.Lots, func(l LotView) bool { return l.Lot.ID == x.Lot }) {
			p.Problems = append(p.Problems, x)
		}
	}
	slices.SortFunc(p.Problems, func(a, b core.Problem) int { return a.At.Compare(b.At) })
	if id := p.At.Abrasive; id != "" {
		p.Mounted = core.Abrasive{ID: id, Touched: w.State.Abrasives[id].Touched}
	}
	return p
}

// withMounted is the catalogue with another belt or disc at a station. The
// catalogue itself is shared and stays as it is.
func withMounted(b *core.Book, at core.StationID, abrasive string) *core.Book {
	out := *b
	out.Stations = maps.Clone(b.Stations)
	st := out.Stations[at]
	st.Abrasive = abrasive
	out.Stations[at] = st
	return &out
}

func (s *Service) goneTo(ctx context.Context, row core.PalletRow) ([]GoneTo, error) {
	w, err := s.World(ctx, core.Names{Pallets: row.GoneTo}, "")
	if err != nil {
		return nil, err
	}
	var out []GoneTo
	for _, c := range row.GoneTo {
		g := GoneTo{Code: c, Place: "not known"}
		if r, ok := w.State.Pallets[c]; ok {
			g.Place = palletPlace(w, r, inZone(w.Now, w.Book))
		}
		out = append(out, g)
	}
	return out, nil
}

// letter names the lots of a pallet as its traveller does: A, B, … Z, AA, AB.
func letter(i int) string {
	if i < 26 {
		return string(rune('A' + i))
	}
	return letter(i/26-1) + letter(i%26)
}

// nextStations lists the stations that do what a lot on the pallet waits for
// next, or has to have done again, this one left out, in the shop's own order.
func nextStations(w core.World, lots []LotView, at core.StationID) []StationChoice {
	b := w.Book
	var stages []core.StageName
	for _, l := range lots {
		for _, s := range core.ToRedo(b, l.Lot, w.Now) {
			stages = append(stages, s.Stage)
		}
		if l.Ended {
			stages = append(stages, usedBy(b, l.Lot.Item)...)
			continue
		}
		stages = append(stages, l.Step.Stage)
	}
	return stationsDoing(b, stages, lots, at)
}

// usedBy lists the stages that build units out of an item.
func usedBy(b *core.Book, item core.ItemRev) []core.StageName {
	var out []core.StageName
	for _, rev := range b.Items {
		if !slices.ContainsFunc(rev.Bill, func(c core.Component) bool { return c.Item == item }) {
			continue
		}
		if steps := b.Routes[rev.Route].Steps; len(steps) > 0 && !slices.Contains(out, steps[0].Stage) {
			out = append(out, steps[0].Stage)
		}
	}
	slices.Sort(out)
	return out
}

// stationsDoing lists stations that do one of the stages, those whose abrasive
// is kept for another metal than the lots' left out.
func stationsDoing(b *core.Book, stages []core.StageName, lots []LotView, not core.StationID) []StationChoice {
	var out []StationChoice
	var order []core.Station
	for _, st := range b.Stations {
		order = append(order, st)
	}
	slices.SortFunc(order, func(a, b core.Station) int {
		if a.Order != b.Order {
			return a.Order - b.Order
		}
		return strings.Compare(string(a.ID), string(b.ID))
	})
	for _, st := range order {
		i := slices.IndexFunc(stages, st.Does)
		if i < 0 || st.ID == not {
			continue
		}
		stage, _ := b.Table.Stage(stages[i])
		if stage.Abrades && st.Metal != "" && slices.ContainsFunc(lots, func(l LotView) bool {
			return l.Revision.Metal != "" && l.Revision.Metal != st.Metal
		}) {
			continue
		}
		out = append(out, StationChoice{st.ID, st.Name, stageTitle(b, stages[i])})
	}
	return out
}

func stageTitle(b *core.Book, n core.StageName) string {
	if s, ok := b.Table.Stage(n); ok && s.Title != "" {
		return s.Title
	}
	return string(n)
}
