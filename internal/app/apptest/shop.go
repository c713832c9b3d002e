// Package apptest is a small invented shop in memory, for the tests of what
// reads the record: the sample catalogue, and a state put there by hand.
package apptest

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"testing"
	"time"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// Now is the moment the shop stands at: Wednesday 25 November 2026, 14:12:07 in London.
var Now = time.Date(2026, 11, 25, 14, 12, 7, 0, time.UTC)

// Floor is a catalogue and a state that a test fills.
type Floor struct {
	World core.World
	lots  int
	sent  []core.Event // what sent consignments off
}

// New reads the sample catalogue with its orders and nests. Nothing is made yet.
func New(t testing.TB) *Floor {
	t.Helper()
	_, here, _, _ := runtime.Caller(0)
	dir := filepath.Join(filepath.Dir(here), "..", "..", "..", "testdata", "samples")
	book := &core.Book{
		Version: 1, Zone: mustZone(t), Shop: "Corrie Sheetworks", Table: core.DefaultStages(),
		Routes: map[core.RouteRef]core.Route{}, Items: map[core.ItemRev]core.Revision{},
		Stations: map[core.StationID]core.Station{}, People: map[core.PersonID]core.Person{},
		Instruments: map[string]core.Instrument{}, Batches: map[string]core.Batch{},
	}
	b, faults := intake.Read(os.DirFS(dir), intake.Known{Book: book})
	if len(faults) > 0 {
		t.Fatalf("read the samples: %v", faults[0])
	}
	for _, x := range b.Items {
		book.Items[x.ItemRev] = x
	}
	for _, x := range b.Routes {
		book.Routes[x.RouteRef] = x
	}
	for _, x := range b.Stations {
		book.Stations[x.ID] = x
	}
	for _, x := range b.People {
		book.People[x.ID] = x
	}
	for _, x := range b.Instruments {
		book.Instruments[x.ID] = x
	}
	for _, x := range b.Batches {
		book.Batches[x.Batch] = x
	}
	s := &Floor{World: core.World{Now: Now, Book: book, State: core.NewState()}}
	for _, o := range b.Orders {
		s.World.State.Orders[o.No] = o
	}
	for _, n := range b.Nests {
		s.World.State.Nests[n.ID] = n
	}
	return s
}

func mustZone(t testing.TB) *time.Location {
	t.Helper()
	z, err := time.LoadLocation("Europe/London")
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// Order puts an order of its own there.
func (s *Floor) Order(o core.Order) *Floor {
	for i := range o.Lines {
		o.Lines[i].Owner = core.Owner{Order: o.No, Line: i + 1}
	}
	s.World.State.Orders[o.No] = o
	return s
}

// Item is an item of the samples, at the one revision they have.
func (s *Floor) Item(id core.ItemID) core.ItemRev {
	for r := range s.World.Book.Items {
		if r.Item == id {
			return r
		}
	}
	panic(fmt.Sprintf("apptest: the samples have no item %s", id))
}

// Pallet puts a pallet at a station; zero station: nowhere yet.
func (s *Floor) Pallet(code core.PalletCode, at core.StationID) *core.PalletRow {
	p := core.PalletRow{Code: code, Kind: core.PalletCarrier, Station: at, Since: Now.Add(-3 * time.Hour), Version: 1}
	s.World.State.Pallets[code] = p
	return &p
}

// Change replaces a pallet's row by what f makes of it.
func (s *Floor) Change(code core.PalletCode, f func(*core.PalletRow)) {
	p := s.World.State.Pallets[code]
	f(&p)
	s.World.State.Pallets[code] = p
}

// Lot puts qty of an item on a pallet, for an order line, with every step
// before the first one of the stage named done. Stage "": all steps done.
func (s *Floor) Lot(on core.PalletCode, item core.ItemID, owner core.Owner, qty int, before core.StageName) core.LotID {
	s.lots++
	rev := s.World.Book.Items[s.Item(item)]
	l := core.Lot{
		ID: core.LotID(fmt.Sprintf("L%03d", s.lots)), Item: rev.ItemRev, Owner: owner, Qty: qty, Route: rev.Route,
		Place: core.On(on), Facts: core.Facts{}, Arrived: Now.Add(-2 * time.Hour),
		Promised: s.World.State.Orders[owner.Order].Promised,
	}
	for _, step := range s.World.Book.Routes[rev.Route].Steps {
		if step.Stage == before {
			break
		}
		l.Done = append(l.Done, step.No)
		stage, _ := s.World.Book.Table.Stage(step.Stage)
		for _, c := range stage.Clears {
			if c.Fact == core.Masked {
				for f := range l.Facts {
					if f.Name == core.Masked {
						delete(l.Facts, f)
					}
				}
			}
		}
		for _, g := range stage.Gives {
			for _, f := range s.given(g, step, rev) {
				l.Facts[f] = core.Standing{Value: core.Yes, By: "E0"}
			}
		}
	}
	s.World.State.Lots[l.ID] = l
	if p, ok := s.World.State.Pallets[on]; ok {
		line := core.PrintLine{Lot: l.ID, Item: l.Item, Qty: qty, Route: l.Route}
		if len(p.Prints) == 0 {
			p.Prints = []core.Print{{No: 1, At: Now.Add(-3 * time.Hour)}}
		}
		p.Prints = slices.Clone(p.Prints)
		p.Prints[0].Lines = append(slices.Clone(p.Prints[0].Lines), line)
		s.World.State.Pallets[on] = p
	}
	return l.ID
}

func (s *Floor) given(g core.Condition, step core.Step, rev core.Revision) []core.Fact {
	switch g.Scope {
	case core.ThisFace, core.AskedFace, core.CoatFaces:
		if step.Face != "" {
			return []core.Fact{{Name: g.Fact, Of: string(step.Face)}}
		}
		var out []core.Fact
		for _, face := range rev.Faces() {
			out = append(out, core.Fact{Name: g.Fact, Of: string(face)})
		}
		return out
	case core.ThisPlace:
		return []core.Fact{{Name: g.Fact, Of: step.Place}}
	}
	return []core.Fact{{Name: g.Fact}}
}

// ChangeLot replaces a lot by what f makes of it.
func (s *Floor) ChangeLot(id core.LotID, f func(*core.Lot)) {
	l := s.World.State.Lots[id]
	f(&l)
	s.World.State.Lots[id] = l
}

// Hold holds something, some time before Now.
func (s *Floor) Hold(id core.HoldID, scope core.HoldScope, ref, reason string, before time.Duration) {
	s.World.State.Holds[id] = core.Hold{ID: id, Scope: scope, Ref: ref, Reason: reason, By: "P18", At: Now.Add(-before)}
}

// Problem reports some of a lot as not as they should be.
func (s *Floor) Problem(id core.ProblemID, lot core.LotID, qty int, stage core.StageName, at core.StationID, what string, before time.Duration) {
	s.World.State.Problems[id] = core.Problem{ID: id, Lot: lot, Qty: qty, Stage: stage, Station: at, By: "P18", At: Now.Add(-before), What: what}
}

// Gone sends pallets off on a consignment, days before Now.
func (s *Floor) Gone(code core.ConsignmentCode, site string, days int, pallets ...core.PalletCode) {
	when := Now.AddDate(0, 0, -days)
	s.World.State.Consignments[code] = core.Consignment{
		Code: code, Site: site, Day: core.DateOf(when), Pallets: pallets, Vehicle: "VN26 TLG", Gone: when,
	}
	truck := core.Place{Kind: core.InConsignment, Ref: string(code)}
	left := core.Event{ID: core.EventID("sent-" + code), Kind: core.EvShipped, Ref: string(code), Happened: when}
	for _, p := range pallets {
		s.Change(p, func(row *core.PalletRow) { row.Consignment = code; row.Station = "" })
		for _, l := range s.World.State.LotsAt(core.On(p)) {
			left.Effects = append(left.Effects, core.Effect{Moved: &core.Move{Lot: l.ID, Item: l.Item, From: l.Place, To: truck, Qty: l.Qty}})
			l.Place, l.Box, l.Facts = truck, p, maps.Clone(l.Facts)
			l.Facts[core.Fact{Name: core.IsShipped}] = core.Standing{Value: core.Yes, By: left.ID}
			s.World.State.Lots[l.ID] = l
		}
	}
	s.sent = append(s.sent, left)
}

// Received brings a consignment to its site, hours before Now; work is what was
// done there to all of it: facts such as [core.IsUnpacked].
func (s *Floor) Received(code core.ConsignmentCode, hours int, work ...string) {
	c := s.World.State.Consignments[code]
	c.Received = Now.Add(time.Duration(-hours) * time.Hour)
	s.World.State.Consignments[code] = c
	for _, l := range s.World.State.LotsAt(core.Place{Kind: core.InConsignment, Ref: string(code)}) {
		l.Place = core.Place{Kind: core.AtSite, Ref: c.Site}
		l.Facts = maps.Clone(l.Facts)
		for _, f := range append([]string{core.IsReceived}, work...) {
			l.Facts[core.Fact{Name: f}] = core.Standing{Value: core.Yes, By: "E0"}
		}
		s.World.State.Lots[l.ID] = l
	}
}
