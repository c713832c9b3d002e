package app_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/code"
	"tagalong/internal/core"
)

// sample makes a valid code out of seeded bytes.
func sample(t *testing.T, k code.Kind, seed string) code.Code {
	t.Helper()
	c, err := code.New(k, strings.NewReader(strings.Repeat(seed, 40)))
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestWhereIs(t *testing.T) {
	s := order41(t, "2026-12-03")
	pallet := core.PalletCode(sample(t, code.Pallet, "abcdefg"))
	empty := core.PalletCode(sample(t, code.Pallet, "hijklmn"))
	truck := core.ConsignmentCode(sample(t, code.Consignment, "opqrstu"))
	sent := core.PalletCode(sample(t, code.Pallet, "vwxyz12"))
	unknown := sample(t, code.Pallet, "3456789")
	s.Pallet(pallet, "WELD-2")
	s.Lot(pallet, "DL-L", leaves, 2, "weld-inspect")
	s.Pallet(empty, "WELD-2")
	s.Change(empty, func(p *core.PalletRow) { p.GoneTo = []core.PalletCode{pallet} })
	s.Pallet(sent, "DOCK-1")
	s.Lot(sent, "WP-2400", panels, 1, "")
	s.Gone(truck, "Larkfield", 2, sent)
	svc := (&apptest.Store{Floor: s}).Service(t)

	say := func(c string) string { return c[:4] + " " + c[4:] }
	for text, want := range map[string]string{
		"":               "",
		"4117":           "Order 4117 for Larkfield Hospital: one of its two pallets left on Monday 23 November;",
		" 4117 ":         "Order 4117 for Larkfield Hospital",
		"larkfield hosp": "Order 4117 for Larkfield Hospital",
		"PQ 7731":        "Order O-4103 for Pellow Quay Bus Depot: nothing of it is cut yet. Promised for Friday 4 December.",
		string(pallet): "Pallet " + say(string(pallet)) + " carries two left door leaves of order 4117 for Larkfield Hospital; " +
			"it has been at weld bench 2 since 11:12; they wait for weld inspection. Promised for Thursday 3 December.",
		"https://shop.example/P/" + string(pallet) + "/1": "Pallet " + say(string(pallet)) + " carries",
		string(empty):            "Pallet " + say(string(empty)) + " is empty; its parts went on to " + say(string(pallet)) + ".",
		string(truck):            "Consignment " + say(string(truck)) + " for Larkfield left on Monday 23 November with one pallet on vehicle VN26 TLG; its receipt at the site is not recorded yet.",
		string(sent):             "Pallet " + say(string(sent)) + " took one wall panel 2400 of order 4117 for Larkfield Hospital away on consignment " + say(string(truck)) + ", which left on Monday 23 November.",
		string(unknown):          "Code " + unknown.Spaced() + " is well formed, but no pallet of this shop carries it.",
		"HP-80":                  "Item HP-80, hinge plate, is asked for by nine open orders, the earliest promised first.",
		"no such thing":          "Nothing fits “no such thing”.",
		"Stellick":               "Two orders fit “Stellick”.",
		strings.Repeat("x", 101): "That is longer than anything that could be found: 100 characters at most.",
	} {
		got, err := svc.WhereIs(context.Background(), text)
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		if !strings.HasPrefix(got.Sentence, want) {
			t.Errorf("%q: got  %s\nwant %s", text, got.Sentence, want)
		}
		if strings.HasPrefix(want, "Nothing fits") && len(got.Try) == 0 {
			t.Errorf("%q: nothing to try is offered", text)
		}
	}
	got, err := svc.WhereIs(context.Background(), "Stellick")
	if err != nil || len(got.Hits) != 2 || got.Order != nil || got.Hits[0].Sub != "Stellick Schools Trust, promised for Friday 27 November" {
		t.Errorf("two orders: %+v, %v", got, err)
	}
}

func TestWhereIsSaysAFaultOfTheStore(t *testing.T) {
	broken := errors.New("the database has gone")
	svc := (&apptest.Store{Floor: apptest.New(t), Fault: broken}).Service(t)
	if _, err := svc.WhereIs(context.Background(), "4117"); !errors.Is(err, broken) {
		t.Errorf("got %v", err)
	}
}

func TestHeldPalletSentence(t *testing.T) {
	s := order41(t, "2026-11-25")
	s.Pallet("PAAAAAAA", "COAT-TABLE-1")
	s.Lot("PAAAAAAA", "WP-2400", panels, 4, "coat-inspect")
	s.Lot("PAAAAAAA", "HP-80", core.Owner{}, 6, "pack")
	s.Hold("H1", core.HoldBatch, "B9", "Powder batch recalled", time.Hour)
	s.ChangeLot("L001", func(l *core.Lot) { l.Batches = []string{"B9"} })
	svc := (&apptest.Store{Floor: s}).Service(t)
	got, err := svc.WhereIs(context.Background(), "4117")
	if err != nil {
		t.Fatal(err)
	}
	const want = "Order 4117 for Larkfield Hospital: its one pallet is not coated yet; the wall panels 2400 are held at the coat inspection table (powder batch recalled)"
	if !strings.HasPrefix(got.Sentence, want) {
		t.Errorf("got  %s\nwant %s", got.Sentence, want)
	}
	if !got.Order.Pallets[0].Lots[0].HeldAt.Equal(apptest.Now.Add(-time.Hour)) {
		t.Errorf("held since %v", got.Order.Pallets[0].Lots[0].HeldAt)
	}
	var _ app.Whereabouts = got
}
