package crowd

import (
	"slices"

	"tagalong/internal/core"
)

// hands sign the stages that ask for something.
var hands = map[core.StageName]core.PersonID{
	"weld-inspect": "P18", "coat-inspect": "P20", "final-check": "P20", "sort": "P20", "pack": "P26", "kit-check": "P26",
	"weld": "P13", "grind-out": "P13", "separate": "P06", "goods-in": "P06",
}

// Hand is who of the samples' people signs a stage.
func Hand(stage core.StageName) core.PersonID {
	if p, ok := hands[stage]; ok {
		return p
	}
	return "P21"
}

// Inputs are the samples' batches that a step asks for.
func Inputs(b *core.Book, l core.Lot, step core.Step) []string {
	switch step.Stage {
	case "weld":
		if b.Items[l.Item].Metal == core.Stainless {
			return []string{"FS-040"}
		}
		return []string{"FA-121"}
	case "pretreat":
		return []string{"BT-48"}
	case "coat":
		colour := step.Colour
		if finish := b.Items[l.Item].Finish; colour == "" && len(finish) > 0 {
			colour = finish[0].Colour
		}
		if colour == "chalk" {
			return []string{"PC-2609"}
		}
		return []string{"PB-2610"}
	}
	return nil
}

// Checks answers every characteristic of a step well.
func Checks(b *core.Book, step core.Step) []core.CheckReading {
	var out []core.CheckReading
	for _, c := range step.Checks {
		r := core.CheckReading{Characteristic: c.ID, Met: true}
		if c.Kind == core.Measure {
			r.Value = new(0.0)
			for _, v := range []*float64{c.Upper, c.Lower, c.Nominal} {
				if v != nil {
					*r.Value = *v
				}
			}
			for _, id := range keys(b.Instruments) {
				if in := b.Instruments[id]; in.Kind == c.Instrument && in.DueBy >= "2026-12-01" {
					r.Instrument = in.ID
				}
			}
		}
		out = append(out, r)
	}
	return out
}

// StationFor is the first station that does a stage, with the right belt; empty
// where none does.
func StationFor(b *core.Book, stage core.StageName, metal core.Metal) core.StationID {
	best := core.StationID("")
	for _, id := range keys(b.Stations) {
		x := b.Stations[id]
		if !x.Does(stage) || x.Metal != "" && metal != "" && (x.Metal == core.Aluminium) != (metal == core.Aluminium) {
			continue
		}
		if best == "" || x.Order < b.Stations[best].Order {
			best = id
		}
	}
	return best
}

// Work is the sign-off of a lot's next step, whole and good, and where it is
// signed.
func Work(b *core.Book, s *core.State, id core.LotID) (core.SignOff, core.StationID) {
	l := s.Lots[id]
	step := core.StepOf(b, s.Orders[l.Owner.Order], l, core.NextSteps(b, l)[0])
	return core.SignOff{
		Pallet: core.PalletCode(l.Place.Ref), Stage: step.Stage, Inputs: Inputs(b, l, step),
		Lots: []core.LotWork{{Lot: id, Good: l.Qty, Checks: Checks(b, step)}},
	}, StationFor(b, step.Stage, b.Items[l.Item].Metal)
}

// Assembly is the sign-off of a build.
func Assembly(b *core.Book, s *core.State, code core.BuildCode) core.Assemble {
	item := s.Builds[code].Item
	step := b.Routes[b.Items[item].Route].Steps[0]
	return core.Assemble{Build: code, Inputs: Inputs(b, core.Lot{Item: item}, step), Checks: Checks(b, step)}
}

// Consents are those of every customer with parts on a consignment.
func Consents(s *core.State, c core.ConsignmentCode, reason string) []core.Consent {
	var out []core.Consent
	for _, code := range s.Consignments[c].Pallets {
		for _, l := range s.LotsAt(core.On(code)) {
			if !slices.ContainsFunc(out, func(x core.Consent) bool { return x.Order == l.Owner.Order }) {
				out = append(out, core.Consent{Order: l.Owner.Order, Who: "site management", Means: "e-mail of today", Reason: reason})
			}
		}
	}
	return out
}
