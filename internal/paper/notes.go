package paper

import (
	"fmt"
	"slices"
	"strings"
)

// What every traveller says at its foot.
const (
	NoPower = "Sign here with a pen: good, not good, name, time. " +
		"Whoever enters it later signs beside it and marks it as entered from paper."
	Care = "Edges are sharp until rounded: cut-resistant gloves and sleeves. " +
		"Lifting weights are guidelines (HSE lifting filter), not a legal limit. " +
		"Site rules, local codes and licensed people come first."
	SharpEdges = "Edges are left as cut on this part and stay sharp: gloves and sleeves at every step, label the pack."
	HoldRule   = "hold point: nobody passes until released"
)

// Guideline weights in kilograms of the HSE lifting filter (INDG143, L23; from
// memory): the largest and the smallest of all zones, for men and for women.
// They are guidelines for about thirty lifts an hour without twisting, and no
// legal limit.
const (
	liftMenMost     = 25
	liftWomenMost   = 16
	liftWomenLeast  = 3
	liftFurtherNote = "less when reaching, twisting, low or high"
)

// LiftNote says how one load of kg kilograms may be lifted by hand. A mass of
// 0 or less is taken as not known.
func LiftNote(kg float64) string {
	switch {
	case kg <= 0:
		return "mass not known: weigh or judge before lifting"
	case kg <= liftWomenLeast:
		return "under every guideline weight"
	case kg <= liftWomenMost:
		return "one person, close to the body, knuckle to elbow height; " + liftFurtherNote
	case kg <= liftMenMost:
		return fmt.Sprintf("over %d kg: two people unless site rules say otherwise; ", liftWomenMost) + liftFurtherNote
	}
	return fmt.Sprintf("over %d kg: not by hand; lifting gear, or a team by site rules", liftMenMost)
}

// LiftingNote says how to move the pallet and lift its parts.
func (t Traveller) LiftingNote() string {
	var b strings.Builder
	b.WriteString("Move the pallet by truck.")
	if t.CarrierKg > 0 {
		fmt.Fprintf(&b, " Empty pallet %s more.", Kg(t.CarrierKg))
	}
	if len(t.Lots) == 0 {
		return b.String()
	}
	if kg := t.heaviestKg(); kg > 0 {
		fmt.Fprintf(&b, " Heaviest part %s: %s.", Kg(kg), LiftNote(kg))
	} else {
		b.WriteString(" Part " + LiftNote(0) + ".")
	}
	return b.String()
}

// AbrasiveNote says which belts and discs may touch the metals on the pallet.
// That iron on aluminium rusts and that aluminium dust with sparks burns is
// common practice, no source.
func (t Traveller) AbrasiveNote() string {
	var fam []MetalFamily
	for _, l := range t.Lots {
		if !slices.Contains(fam, l.Metal.Family) {
			fam = append(fam, l.Metal.Family)
		}
	}
	slices.Sort(fam)
	if len(fam) > 1 {
		var parts []string
		for _, f := range fam {
			parts = append(parts, f.abrasive())
		}
		return "Different metals on this pallet, keep them apart. " + strings.Join(parts, " ")
	}
	if len(fam) == 0 {
		return ""
	}
	return fam[0].abrasive()
}

// MetalsText names each metal on the pallet once, with the abrasive note.
func (t Traveller) MetalsText() string {
	return joinFilled(". ", strings.Join(t.metals(), "; "), t.AbrasiveNote())
}

// metals names each metal on the pallet once.
func (t Traveller) metals() []string {
	var out []string
	for _, l := range t.Lots {
		if m := l.Metal.Text(); m != "" && !slices.Contains(out, m) {
			out = append(out, m)
		}
	}
	return out
}

func (f MetalFamily) abrasive() string {
	switch f {
	case Aluminium:
		return "Aluminium abrasives only: none that ever touched steel. Aluminium dust with sparks burns: clean the extraction first."
	case StainlessSteel:
		return "Stainless abrasives only: none that ever touched carbon steel or aluminium."
	case CarbonSteel:
		return "Steel abrasives only: they never go back to aluminium or stainless."
	}
	return "Use abrasives kept for this metal alone."
}
