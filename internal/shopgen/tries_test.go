package shopgen

import (
	"context"
	"slices"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/core"
)

// asked is a shop of which the tries ask.
type asked struct {
	app.Store
	world core.World
	cards []app.PalletCard
}

func (a asked) Book(context.Context) (*core.Book, error) { return a.world.Book, nil }

func (a asked) Pallets(context.Context, int) ([]app.PalletCard, error) { return a.cards, nil }

func (a asked) Load(context.Context, core.Names, core.StationID) (core.World, error) {
	return a.world, nil
}

func (a asked) OpenBuilds(context.Context, core.StationID) ([]core.Build, error) { return nil, nil }

func (a asked) Consignments(context.Context, int) ([]core.Consignment, error) { return nil, nil }

func (a asked) Problems(context.Context) ([]core.Problem, error) { return nil, nil }

// What the pallets have moved on from is proposed no more, and said to be.
func TestTriesFollowTheShop(t *testing.T) {
	t.Parallel()
	world := apptest.New(t).World
	list := func(busy func(core.PalletCode) bool, cards ...app.PalletCard) map[string]Try {
		svc := &app.Service{Store: asked{world: world, cards: cards}, Clock: func() time.Time { return now }}
		found, err := Tries(t.Context(), svc, busy)
		if err != nil {
			t.Fatal(err)
		}
		out := map[string]Try{}
		for _, x := range found {
			out[x.Key] = x
			if x.At != "" && world.Book.Stations[x.At].ID == "" {
				t.Errorf("%q is at %s, which the shop lacks", x.Title, x.At)
			}
			if _, there := world.Book.People[x.By]; x.By != "" && !there {
				t.Errorf("%q is signed by %s, whom the shop lacks", x.Title, x.By)
			}
			if x.None && (x.Pallet != "" || x.Next != "") || !x.None && x.Next == "" {
				t.Errorf("%q: %+v", x.Title, x)
			}
		}
		return out
	}
	frame := app.PalletCard{Code: "P4K7M2QX", Kind: core.PalletCarrier, Station: "INSPECT-1", Stages: []core.StageName{"weld-inspect"}}
	if got := list(nil, frame); got["release"].Pallet != frame.Code || got["hold"].At != "PRETREAT-1" || !got["fold"].None {
		t.Errorf("with a frame to inspect: %+v %+v", got["release"], got["hold"])
	}
	if got := list(func(core.PalletCode) bool { return true }, frame); !got["release"].None {
		t.Error("a pallet that another visitor is busy with is proposed")
	}
	frame.Stages = []core.StageName{"rivet-nut"}
	if got := list(nil, frame); !got["release"].None || !got["hold"].None {
		t.Error("a released weld is proposed for release")
	}
	held := app.PalletCard{Code: "P4K7M2QX", Kind: core.PalletCarrier, Station: "BRAKE-1", Stages: []core.StageName{"fold"}, Held: true}
	free := app.PalletCard{Code: "P4K7M2QY", Kind: core.PalletCarrier, Station: "BRAKE-3", Stages: []core.StageName{"fold"}}
	if got := list(nil, held, free); got["fold"].Pallet != free.Code || got["fold"].At != "BRAKE-3" {
		t.Errorf("with a held pallet and a free one: %+v", got["fold"])
	}
	sheet := app.PalletCard{Code: "S4K7M2QX", Kind: core.SheetCarrier, Station: "BENCH-1", Label: "M-1008", Stages: []core.StageName{"separate"}}
	if got := list(nil, sheet); got["separate"].Pallet != sheet.Code {
		t.Error("a cut sheet at the bench is not worth a try")
	}
	nest := world.State.Nests["N-7004"]
	if !slices.ContainsFunc(nest.Parts, func(p core.NestPart) bool { return p.Item.Item == "ST-1900" }) {
		t.Error("the nest that the text names has no stiffeners")
	}
	if got := list(nil); got["where"].None || !got["receive"].None {
		t.Error("with nothing on the floor one can still ask for an order")
	}
}
