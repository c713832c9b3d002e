package postgres_test

import (
	"reflect"
	"testing"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

func sampleRows() app.BookRows {
	return app.BookRows{
		Shop:     &app.Shop{Name: "Corrie Sheetworks (invented)", Zone: "Europe/London"},
		Stages:   []core.Stage{{Name: "laser-etch", Title: "Etch the mark", Group: "cut"}},
		Routes:   []core.Route{{RouteRef: core.RouteRef{Name: "R", Version: 1}, Steps: []core.Step{{No: 10, Stage: "fold", Minutes: 2}}}},
		Items:    []core.Revision{{ItemRev: bracket, Kind: core.PartItem, Name: "bracket, left", Route: core.RouteRef{Name: "R", Version: 1}}},
		Stations: []core.Station{{ID: "BRAKE-1", Name: "Press brake 1", Stages: []core.StageName{"fold"}, Abrasive: "BELT-1"}},
		People:   []core.Person{{ID: "P1", Name: "Ada Invented", Roles: []core.Role{core.Operator}}},
		Batches:  []core.Batch{{Kind: "powder", Batch: "PB-1"}},
	}
}

func TestSaveBook(t *testing.T) {
	f := newFixture(t)
	ctx := t.Context()
	added, changed, err := f.SaveBook(ctx, "P1", "first.csv", sampleRows())
	if err != nil || added != 7 || changed != 0 {
		t.Fatalf("added %d, changed %d, %v", added, changed, err)
	}
	first := must(f.Book(ctx))(t)
	if first.Zone.String() != "Europe/London" || first.People["P1"].Name != "Ada Invented" || first.Stations["BRAKE-1"].Abrasive != "BELT-1" {
		t.Errorf("book %+v", first)
	}
	if _, ok := first.Table.Stage("fold"); !ok || first.Table.Order[len(first.Table.Order)-1] != "laser-etch" {
		t.Errorf("the stage table lacks its defaults or the shop's own: %v", first.Table.Order)
	}
	if added, changed, err = f.SaveBook(ctx, "P1", "first.csv", sampleRows()); err != nil || added != 0 || changed != 0 {
		t.Fatalf("the same again: added %d, changed %d, %v", added, changed, err)
	}
	if again := must(f.Book(ctx))(t); again != first {
		t.Error("saving the same rows made a new version")
	}
	rows := sampleRows()
	rows.People[0].Name = "" // blanked
	rows.People = append(rows.People, core.Person{ID: "P2", Name: "Bo Invented"})
	if added, changed, err = f.SaveBook(ctx, "P1", "second.csv", rows); err != nil || added != 1 || changed != 1 {
		t.Fatalf("one blanked, one new: added %d, changed %d, %v", added, changed, err)
	}
	second := must(f.Book(ctx))(t)
	if second.Version <= first.Version || second.People["P1"].Name != "" || first.People["P1"].Name != "Ada Invented" {
		t.Errorf("versions %d and %d, names %q and %q", first.Version, second.Version, first.People["P1"].Name, second.People["P1"].Name)
	}
	f.verified(t)
	// The name stands in its one row and nowhere in what is kept for good.
	var kept int
	if err := connect(t, f.db.SuperURL).QueryRow(ctx, `
		SELECT count(*) FROM (SELECT body::text FROM tagalong.book_change UNION ALL SELECT payload::text FROM tagalong.event) AS x(text)
		WHERE text LIKE '%Ada Invented%'`).Scan(&kept); err != nil || kept != 0 {
		t.Errorf("a blanked name stands in %d rows of the record: %v", kept, err)
	}
}

// Another server's change is seen by the next command, inside its transaction,
// with the belt that is mounted now.
func TestACommandReadsTheBookOfTheMoment(t *testing.T) {
	f := newFixture(t)
	other := openStore(t, f.db.AppURL, f.clock)
	must(f.Book(t.Context()))(t)
	if _, _, err := other.SaveBook(t.Context(), "", "x", sampleRows()); err != nil {
		t.Fatal(err)
	}
	f.do(t, "belt", core.Names{Abrasives: []string{"BELT-1"}}, func(w core.World) core.Outcome {
		return happen("belt", w, core.EvSettled, core.Effect{AbrasivePut: &core.Abrasive{ID: "BELT-1", Touched: []core.Metal{core.Steel}}})
	})
	rows := sampleRows()
	rows.Stations[0].Abrasive = "BELT-2"
	rows.Stations = append(rows.Stations, core.Station{ID: "bench", Abrasive: "BELT-1"})
	if _, _, err := other.SaveBook(t.Context(), "", "x", rows); err != nil {
		t.Fatal(err)
	}
	f.do(t, "look", core.Names{}, func(w core.World) core.Outcome {
		if w.Book.Stations["BRAKE-1"].Abrasive != "BELT-2" {
			t.Error("the command was judged by the book before")
		}
		if !reflect.DeepEqual(w.State.Abrasives["BELT-1"].Touched, []core.Metal{core.Steel}) {
			t.Errorf("the belt mounted at the bench wasn't loaded: %v", w.State.Abrasives)
		}
		return core.Outcome{Refusal: &core.Refusal{Code: "looked"}}
	})
}

// A route that changes under lots changes what they wait for.
func TestSavingARouteMovesItsLots(t *testing.T) {
	f := newFixture(t)
	rows := sampleRows()
	if _, _, err := f.SaveBook(t.Context(), "", "x", rows); err != nil {
		t.Fatal(err)
	}
	f.do(t, "born", core.Names{}, func(w core.World) core.Outcome {
		on := core.On(w.Fresh[0])
		return happen("born", w, core.EvGoodsReceived,
			core.Effect{PalletPut: &core.PalletRow{Code: w.Fresh[0], Kind: core.PalletCarrier, Station: "BRAKE-1", Since: w.Now}},
			core.Effect{LotBorn: &core.Lot{ID: "born/1", Item: bracket, Route: rows.Routes[0].RouteRef, Place: on, Arrived: w.Now}},
			core.Effect{Moved: &core.Move{Lot: "born/1", Item: bracket, From: core.Place{Kind: core.FromSupplier}, To: on, Qty: 4}})
	})
	there, err := f.AtStation(t.Context(), "BRAKE-1", app.Part{})
	here := there.Here
	if err != nil || len(here) != 1 || here[0].NextStage != "fold" || here[0].Names[0] != "bracket, left" {
		t.Fatalf("at the brake: %+v, %v", here, err)
	}
	rows.Routes[0].Steps = append([]core.Step{{No: 5, Stage: "edge-round", Minutes: 3}}, rows.Routes[0].Steps...)
	if _, _, err := f.SaveBook(t.Context(), "", "x", rows); err != nil {
		t.Fatal(err)
	}
	if there, err = f.AtStation(t.Context(), "BRAKE-1", app.Part{}); err != nil || there.Here[0].NextStage != "edge-round" {
		t.Errorf("after the route changed: %+v, %v", there, err)
	}
	f.verified(t)
}
