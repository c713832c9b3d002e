package crowd

import (
	"fmt"

	"tagalong/internal/core"
)

// away books the shop's own carriers that trucks took and what became of them.
func (k *Books) away(e core.Event) error {
	switch e.Kind {
	case core.EvShipped:
		for _, f := range e.Effects {
			if c := f.ConsignmentPut; c != nil && !c.Gone.IsZero() {
				k.owed[c.Code] = map[core.ReturnKind]int{}
				for _, x := range c.Out {
					k.owed[c.Code][x.Kind] += x.Count
				}
			}
		}
	case core.EvTakenBack:
		owed := k.owed[core.ConsignmentCode(e.Ref)]
		for _, x := range e.Carriers {
			if owed[x.Kind] -= x.Count; x.Count < 1 || owed[x.Kind] < 0 {
				return fmt.Errorf("%d of the kind %s come back and %d were out", x.Count, x.Kind, owed[x.Kind]+x.Count)
			}
		}
	}
	return nil
}

// Owed: what is still to come back is what left, less what came back or was
// given up.
func (k *Books) Owed(s *core.State) error {
	for code, owed := range k.owed {
		told := map[core.ReturnKind]int{}
		for _, x := range s.Consignments[code].Owed() {
			told[x.Kind] += x.Count
		}
		for _, kind := range core.ReturnKinds {
			if told[kind] != owed[kind] {
				return fmt.Errorf("consignment %s owes %d of the kind %s, its events say %d", code, told[kind], kind, owed[kind])
			}
		}
	}
	return nil
}

// own draws carriers of the shop's own.
func (w *Walk) own() []core.CarrierCount {
	var out []core.CarrierCount
	for range w.UpTo(2, "kinds") {
		out = append(out, core.CarrierCount{Kind: one(w, core.ReturnKinds, "kind"), Count: w.UpTo(3, "carriers")})
	}
	return out
}

// takeBack counts carriers that came back, or never will.
func (w *Walk) takeBack() {
	c := w.consignment(func(c core.Consignment) bool { return len(c.Owed()) > 0 })
	b := core.TakeBack{Consignment: c, Carriers: w.own(), Lost: w.now("given up"), Note: "counted"}
	if w.now("as many as are out, or fewer") {
		b.Carriers = w.State().Consignments[c].Owed()
		b.Carriers[0].Count = 1 + w.UpTo(b.Carriers[0].Count-1, "of them")
	}
	w.at("take-back", b, "DOCK-1", "P25")
}
