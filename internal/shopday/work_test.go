package shopday

import (
	"maps"
	"slices"

	"tagalong/internal/core"
)

// Who signs at a station where nothing else is said.
var hands = map[core.StationID]core.PersonID{
	"GOODS-1": "P06", "LASER-1": "P08", "TUBE-1": "P08", "BENCH-1": "P06", "BENCH-2": "P06",
	"ROUND-AL": "P21", "ROUND-SS": "P21", "HAND-AL": "P21", "BRAKE-1": "P22", "WELD-1": "P13", "INSPECT-1": "P18",
	"PRETREAT-1": "P23", "BOOTH-1": "P24", "OVEN-1": "P24", "COAT-TABLE-1": "P20", "DOCK-1": "P26",
}

// The batches in use.
var batches = map[core.StageName]string{"weld": "FA-121", "pretreat": "BT-48", "coat": "PB-2610"}

// takeIn takes a pallet in at a station.
func (s *shop) takeIn(p core.PalletCode, at core.StationID) {
	s.t.Helper()
	s.at(at).does(core.TakeIn{Pallet: p})
}

// readings answers every check of a lot's step well, with a gauge in date.
func (s *shop) readings(l core.Lot, stage core.StageName) []core.CheckReading {
	s.t.Helper()
	b := s.book()
	route := b.Routes[l.Route]
	if l.Rework != nil {
		route = b.Routes[l.Rework.Route]
	}
	i := slices.IndexFunc(route.Steps, func(x core.Step) bool { return x.Stage == stage })
	if i < 0 {
		return nil
	}
	w, err := s.app.World(s.t.Context(), core.Names{Lots: []core.LotID{l.ID}}, "")
	must(s.t, err)
	return well(b, core.StepOf(b, w.State.Orders[l.Owner.Order], l, route.Steps[i]))
}

func well(b *core.Book, step core.Step) []core.CheckReading {
	var out []core.CheckReading
	for _, c := range step.Checks {
		r := core.CheckReading{Characteristic: c.ID, Met: true}
		if c.Kind == core.Measure {
			r.Value = c.Nominal
			for _, id := range slices.Sorted(maps.Keys(b.Instruments)) {
				if in := b.Instruments[id]; in.Kind == c.Instrument && in.DueBy >= "2027-01-01" {
					r.Instrument = id
				}
			}
		}
		out = append(out, r)
	}
	return out
}

// signOff is the sign-off of lots of a pallet, whole and good.
func (s *shop) signOff(p core.PalletCode, stage core.StageName, lots ...core.LotID) core.SignOff {
	s.t.Helper()
	b := core.SignOff{Pallet: p, Stage: stage}
	if in := batches[stage]; in != "" {
		b.Inputs = []string{in}
	}
	for _, id := range lots {
		l := s.lot(id)
		b.Lots = append(b.Lots, core.LotWork{Lot: id, Good: l.Qty, Checks: s.readings(l, stage)})
	}
	return b
}

// work takes a pallet in at a station and has lots done there.
func (s *shop) work(at core.StationID, p core.PalletCode, stage core.StageName, lots ...core.LotID) {
	s.t.Helper()
	if s.pallet(p).Station != at {
		s.takeIn(p, at)
	}
	s.at(at).does(s.signOff(p, stage, lots...), hands[at])
}

// sheet is a sheet or bar of a material that is still whole, oldest label first.
func (s *shop) sheet(material core.ItemID) core.PalletCode {
	s.t.Helper()
	open, err := s.store.OpenSheets(s.t.Context())
	must(s.t, err)
	for _, x := range open {
		if x.Material.Item == material && !x.Cut {
			return x.Code
		}
	}
	s.t.Fatalf("no sheet of %s", material)
	return ""
}

// cut cuts a sheet at a laser and takes it in at the separation bench.
func (s *shop) cut(material core.ItemID, laser, bench core.StationID) core.PalletCode {
	s.t.Helper()
	code := s.sheet(material)
	s.work(laser, code, "cut", s.on(code)[0].ID)
	s.takeIn(code, bench)
	return code
}

// separated breaks a nest out, each line on the pallet its letter names, and
// returns the lots by item.
func (s *shop) separated(nest string, material core.ItemID, laser, bench core.StationID, letters string) map[core.ItemID]core.Lot {
	s.t.Helper()
	w, err := s.app.World(s.t.Context(), core.Names{Nests: []string{nest}}, "")
	must(s.t, err)
	b := core.Separate{Sheet: s.cut(material, laser, bench), Nest: nest}
	for i, p := range w.State.Nests[nest].Parts {
		b.Ticks = append(b.Ticks, core.PartTick{Line: p.No, Good: p.Qty, To: core.PalletCode("new:" + letters[i:i+1])})
	}
	out := map[core.ItemID]core.Lot{}
	for _, c := range s.at(bench).does(b, hands[bench]).Lots {
		l := s.lot(c.Lot)
		out[l.Item.Item] = l
	}
	return out
}

// palletOf is the pallet a lot is on.
func (s *shop) palletOf(id core.LotID) core.PalletCode {
	s.t.Helper()
	return core.PalletCode(s.lot(id).Place.Ref)
}
