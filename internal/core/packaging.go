package core

import (
	"slices"
	"strconv"
	"strings"
)

// Haul is how far a load travels, as its packaging cares.
type Haul int

const (
	NoHaul   Haul = iota // collected, or no distance laid down: nothing is asked beyond what the route draws
	Near                 // up to nearKm
	Regional             // up to regionalKm
	LongHaul             // farther, abroad, or an order that says so
)

// The distances at which packaging changes, in km by road. Common practice, no
// source: near is an hour's drive, regional a day out and back.
const (
	nearKm     = 60
	regionalKm = 300
)

func (h Haul) String() string {
	return [...]string{"collected", "near", "regional", "long haul"}[h]
}

// Journey is where an order's parts travel to.
type Journey struct {
	Site   string // its name
	Haul   Haul
	Km     int  // by road; 0: not laid down
	Abroad bool // across a border that asks for marked timber
}

// JourneyOf is the way from the shop to an order's site. A site that is no
// station of the book has no distance; an order that says it is long haul is.
func JourneyOf(b *Book, o Order) Journey {
	j := Journey{Site: o.Site}
	if st, ok := b.Stations[StationID(o.Site)]; ok {
		j.Site, j.Km, j.Abroad = st.Name, st.Km, st.Abroad
	}
	switch {
	case o.LongHaul || j.Abroad || j.Km > regionalKm:
		j.Haul = LongHaul
	case j.Km > nearKm:
		j.Haul = Regional
	case j.Km > 0:
		j.Haul = Near
	}
	return j
}

// Packing is one material a load is packed with, from a distance on.
type Packing struct {
	ID     string // of its characteristic at the pack step
	Text   string // as it is ticked: done, not to be done
	From   Haul
	Abroad bool    // only across a border
	If     []Trait // asked of lots with all of these
	Unless []Trait // and none of these
	Source string  // empty: common practice, no source
}

// boxed goods travel in boxes of their own inside the load.
var boxed = []Trait{IsKit, IsBought}

// packings is what the distance asks. Common practice, no source, but for the
// mark on timber.
var packings = []Packing{
	{ID: "packaging-foam", Text: "Foam between coated faces", From: Near, If: []Trait{AsksCoat}, Unless: boxed},
	{ID: "packaging-straps", Text: "Strapped to the carrier", From: Near, Unless: boxed},
	{ID: "packaging-corners", Text: "Corner protectors under the straps", From: Regional, Unless: boxed},
	{ID: "packaging-side-boards", Text: "Side boards all round", From: Regional, Unless: boxed},
	{ID: "packaging-timber", Text: "Timber frame or crate round the load", From: LongHaul, Unless: boxed},
	{ID: "packaging-timber-mark", Text: "Raw timber, the pallet too, marked by ISPM 15 on two opposite sides", From: LongHaul, Abroad: true,
		Unless: boxed, Source: "ISPM 15 (FAO/IPPC), annex 2"},
}

// PackingFor lists what the way to an order's site asks of one lot.
func PackingFor(b *Book, o Order, l Lot) []Packing {
	j, t := JourneyOf(b, o), traits(b, l, Step{})
	var out []Packing
	for _, p := range packings {
		asked := j.Haul >= p.From && (j.Abroad || !p.Abroad)
		if asked && (Condition{If: p.If, Unless: p.Unless}).counts(t) {
			out = append(out, p)
		}
	}
	return out
}

// Packings lists every material, as the distance grows.
func Packings() []Packing { return slices.Clone(packings) }

// PackingOf finds a material by its characteristic.
func PackingOf(id string) (Packing, bool) {
	i := slices.IndexFunc(packings, func(p Packing) bool { return p.ID == id })
	if i < 0 {
		return Packing{}, false
	}
	return packings[i], true
}

// PackingText names materials in one line.
func PackingText(ps []Packing) string {
	var out []string
	for _, p := range ps {
		out = append(out, lowerFirst(p.Text))
	}
	return strings.Join(out, "; ")
}

func lowerFirst(s string) string { return strings.ToLower(s[:1]) + s[1:] }

// Text says how far it is: "long haul, 460 km".
func (j Journey) Text() string {
	text := j.Haul.String()
	if j.Km > 0 {
		text += ", " + strconv.Itoa(j.Km) + " km"
	}
	if j.Abroad {
		text += ", abroad"
	}
	return text
}

// Check is the material as a characteristic of the pack step.
func (p Packing) Check() Characteristic {
	return Characteristic{ID: p.ID, Text: p.Text, Kind: Tick, Source: p.Source}
}

// StepOf is a step as it is asked of one lot: packing asks, beside what the
// route draws, for what the way to the order's site takes.
func StepOf(b *Book, o Order, l Lot, s Step) Step {
	if s.Stage != "pack" {
		return s
	}
	s.Checks = slices.Clone(s.Checks)
	for _, p := range PackingFor(b, o, l) {
		s.Checks = append(s.Checks, p.Check())
	}
	return s
}

// stepOf is StepOf with the order of the world.
func (d *deciding) stepOf(l Lot, s Step) Step {
	return StepOf(d.w.Book, d.s.Orders[l.Owner.Order], l, s)
}

// packed judges one material at the pack step: it is there, or a concession
// lets the load go without.
func (d *deciding) packed(l Lot, p Packing, given []CheckReading) *Refusal {
	met := checkMet(given, p.ID)
	if !met {
		j := JourneyOf(d.w.Book, d.s.Orders[l.Owner.Order])
		r := refuse("packaging-missing", "material", lowerFirst(p.Text), "site", j.Site, "distance", j.Text())
		if r := d.stop(r); r != nil {
			return r
		}
	}
	d.ev.Checks = append(d.ev.Checks, Reading{Lot: l.ID, Characteristic: p.ID, Met: met})
	return nil
}

// PalletSize is the plan of a pallet, mm.
type PalletSize struct{ Length, Width float64 }

// PalletSizes are the plans of ISO 6780:2003 (its table of plan dimensions, seen
// in a public reproduction), smallest area first.
var PalletSizes = []PalletSize{{1200, 800}, {1067, 1067}, {1200, 1000}, {1100, 1100}, {1219, 1016}, {1140, 1140}}

// PalletFor is the smallest of them that a part lies on without overhang,
// turned or not; false where none is large enough.
func PalletFor(length, width float64) (PalletSize, bool) {
	long, short := max(length, width), min(length, width)
	i := slices.IndexFunc(PalletSizes, func(p PalletSize) bool { return long <= p.Length && short <= p.Width })
	if i < 0 {
		return PalletSize{}, false
	}
	return PalletSizes[i], true
}
