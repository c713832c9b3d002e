package core_test

import (
	"encoding/json"
	"maps"
	"slices"
	"testing"

	"tagalong/internal/core"
)

// divided takes two of the four parts of a lot that has been worked on.
func divided(t *testing.T) (s *shop, of core.LotID, before *core.State, e core.Event) {
	s = newShop(t)
	of, code := s.four()
	s.bring(of, "ROUND-AL")
	w := mustWork(s, of)
	s.must(w, "ROUND-AL", "P21")
	before = copyOf(s.state)
	return s, of, before, s.must(core.Divide{From: code, Picks: []core.Pick{{Lot: of, Qty: 2}}}, "ROUND-AL")
}

func copyOf(s *core.State) *core.State {
	c := *s
	c.Lots, c.Pallets, c.Holds = maps.Clone(s.Lots), maps.Clone(s.Pallets), maps.Clone(s.Holds)
	return &c
}

func jsonOf(t *testing.T, v any) string {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// A split says of the new lot only whose parts it is; all else it is known by is
// that lot's.
func TestASplitSaysNoMoreThanItsParent(t *testing.T) {
	s, of, _, e := divided(t)
	i := slices.IndexFunc(e.Effects, func(f core.Effect) bool { return f.LotSplit != nil })
	if i < 0 || slices.ContainsFunc(e.Effects, func(f core.Effect) bool { return f.LotBorn != nil }) {
		t.Fatalf("the event has no split, or a lot that is described anew: %s", jsonOf(t, e))
	}
	child, parent := s.state.Lots[e.Effects[i].LotSplit.Lot], s.state.Lots[of]
	same(t, "parts", []int{parent.Qty, child.Qty}, []int{2, 2})
	same(t, "parents", child.Parents, append(slices.Clone(parent.Parents), of))
	if len(child.Done) == 0 || len(child.Facts) == 0 {
		t.Error("nothing had been done to it; the test shows nothing")
	}
	child.ID, child.Parents, child.Place = parent.ID, parent.Parents, parent.Place
	same(t, "the rest", jsonOf(t, child), jsonOf(t, parent))
}

// Before there was this effect a split told the whole of the new lot. Such an
// event, which is kept for ever, leaves the same state.
func TestALotThatWasToldWholeIsTheSame(t *testing.T) {
	s, of, before, e := divided(t)
	old := e
	old.Effects = slices.Clone(e.Effects)
	for i, f := range old.Effects {
		if x := f.LotSplit; x != nil {
			born := before.Lots[of]
			born.ID, born.Qty, born.Lost, born.Parents = x.Lot, 0, 0, append(slices.Clone(born.Parents), of)
			old.Effects[i] = core.Effect{LotBorn: &born}
		}
	}
	read, err := core.ReadEvent(old.Kind, old.V, []byte(jsonOf(t, old)))
	if err != nil {
		t.Fatal(err)
	}
	if err := core.Apply(before, read); err != nil {
		t.Fatal(err)
	}
	same(t, "the lots", jsonOf(t, before.Lots), jsonOf(t, s.state.Lots))
}

// A stored split reads for ever.
func TestASplitReadsForEver(t *testing.T) {
	const stored = `{"id":"c2.1","kind":"divided","v":1,"happened":"2026-11-25T09:12:00Z","effects":[` +
		`{"lotSplit":{"lot":"c2/1","of":"c1/1"}},` +
		`{"moved":{"lot":"c1/1","item":{"item":"RT-2400","rev":"C"},"from":{"kind":"pallet","ref":"P1"},"to":{"kind":"descent","ref":"c2.1"},"qty":3}},` +
		`{"moved":{"lot":"c2/1","item":{"item":"RT-2400","rev":"C"},"from":{"kind":"descent","ref":"c2.1"},"to":{"kind":"pallet","ref":"P2"},"qty":3}}]}`
	e, err := core.ReadEvent("divided", 1, []byte(stored))
	if err != nil {
		t.Fatal(err)
	}
	same(t, "written again", jsonOf(t, e), stored)
	s := core.NewState()
	if err := core.Apply(s, e); err == nil {
		t.Error("a lot was split off one that nobody knows")
	}
	s.Lots["c1/1"] = core.Lot{ID: "c1/1", Place: core.On("P1"), Qty: 5, Heats: []string{"H1"}, Parents: []core.LotID{"c0/1"}}
	if err := core.Apply(s, e); err != nil {
		t.Fatal(err)
	}
	same(t, "what it leaves", s.Lots["c1/1"].Qty, 2)
	same(t, "what it makes", jsonOf(t, s.Lots["c2/1"]), jsonOf(t, core.Lot{ID: "c2/1", Place: core.On("P2"), Qty: 3,
		Heats: []string{"H1"}, Parents: []core.LotID{"c0/1", "c1/1"}}))
}
