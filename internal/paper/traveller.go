package paper

import (
	"slices"
	"time"
)

// A Traveller is the printed sheet of one pallet. Times are printed in the
// zone they carry, so give them in the shop's own.
type Traveller struct {
	Code    string // pallet code as it is read aloud, "P4K7 M2QX"
	Address string // what the QR says: the pallet's address and print number, upper case
	Print   int    // number of this print, from 1
	// Replaces is the print this one makes stale, 0 if it is the first.
	Replaces     int
	PrintedAt    time.Time
	PrintedWhere string // station
	PrintedBy    string // person
	Shop         string
	Notice       string // such as "Invented demo data"; printed on every page

	Lots        []Lot
	CarrierKg   float64 // mass of the empty pallet, 0 if not known
	Holds       []Hold  // holds on the pallet as a whole
	Concessions []Concession
}

// A Lot is a number of like parts on the pallet.
type Lot struct {
	Letter   string // "A", "B" …, how the sheet and the tablet name the lot
	Item     string
	Name     string
	Revision string
	Order    string
	Line     string
	Customer string
	Promised time.Time // only its date is read; zero if nothing was promised

	Count       int
	Metal       Metal
	MassEachKg  float64 // mass of one part, 0 if not known
	Sheets      []Sheet
	Finish      []Finish
	Outline     Outline
	Steps       []Step
	Holds       []Hold
	Concessions []Concession
	CutHazard   bool   // the revision leaves edges as cut
	HandMarking string // "left hand", "right hand", or nothing
}

// MetalFamily says which abrasives may touch a metal.
type MetalFamily int

// The families a shop keeps apart at its belts and discs.
const (
	OtherMetal MetalFamily = iota
	Aluminium
	StainlessSteel
	CarbonSteel
)

// A Metal is what a part is cut from.
type Metal struct {
	Grade       string // "5005-H32"
	Family      MetalFamily
	ThicknessMM float64 // 0 for a section or when not known
}

// A Sheet is the sheet or bar a part was cut from, with its heat number.
type Sheet struct{ Code, Heat string }

// A Finish is what one face is to get, such as {"out", "basalt, textured"}.
type Finish struct{ Face, Finish string }

// A Point is in millimetres on the flat part; y grows upwards as on a drawing.
type Point struct{ X, Y float64 }

// An Outline shows a part: either polylines in millimetres or a PNG or JPEG
// picture. A closed polyline ends on the point it began with. Empty shows
// nothing; a picture that can't be read is said so on the sheet.
type Outline struct {
	Paths   [][]Point
	Picture []byte
}

// StepKind is the flow process chart symbol of a step (ASME standard of 1947,
// from memory).
type StepKind int

// The five symbols of the flow process chart.
const (
	Operation StepKind = iota
	Inspection
	Transport
	Delay
	Storage
)

// A Step is one line of a lot's route.
type Step struct {
	Kind          StepKind
	Stage         string
	LookAt        string // what to look at
	Done          bool
	SignedBy      string
	At            time.Time // when it was signed
	Good, NotGood int
	HoldPoint     bool // nobody passes until it is released
	NotTheWelder  bool // whoever welded it may not sign here
	Next          bool // the step this lot stands before
}

// A Hold stops a lot or a pallet until somebody lifts it.
type Hold struct {
	Reason  string
	Since   time.Time
	By      string // who put it on
	Release string // who can lift it, and how
}

// A Concession is a rule waived once, with a reason and two signatures.
type Concession struct {
	Number  string
	Reason  string
	Signers []string
}

// An OrderLine is one order as the head of the sheet names it.
type OrderLine struct {
	Order, Customer string
	Promised        time.Time
	Lots            []string // letters
}

// Orders lists the orders on the pallet, earliest promised first.
func (t Traveller) Orders() []OrderLine {
	var out []OrderLine
	for _, l := range t.Lots {
		i := slices.IndexFunc(out, func(o OrderLine) bool { return o.Order == l.Order && o.Customer == l.Customer })
		if i < 0 {
			out = append(out, OrderLine{Order: l.Order, Customer: l.Customer, Promised: l.Promised, Lots: []string{l.Letter}})
			continue
		}
		out[i].Lots = append(out[i].Lots, l.Letter)
		if out[i].Promised.IsZero() || !l.Promised.IsZero() && l.Promised.Before(out[i].Promised) {
			out[i].Promised = l.Promised
		}
	}
	slices.SortStableFunc(out, func(a, b OrderLine) int {
		switch {
		case a.Promised.IsZero() && b.Promised.IsZero():
			return 0
		case a.Promised.IsZero():
			return 1
		case b.Promised.IsZero():
			return -1
		}
		return a.Promised.Compare(b.Promised)
	})
	return out
}

// promised is the earliest promised date; zero if nothing was promised.
func (t Traveller) promised() time.Time {
	if orders := t.Orders(); len(orders) > 0 {
		return orders[0].Promised
	}
	return time.Time{}
}

// Count is the number of parts on the pallet.
func (t Traveller) Count() int {
	n := 0
	for _, l := range t.Lots {
		n += l.Count
	}
	return n
}

// MassKg is the mass of all parts, in kilograms, without the empty pallet.
// It is false when the mass of any part isn't known.
func (t Traveller) MassKg() (float64, bool) {
	sum := 0.0
	for _, l := range t.Lots {
		if l.MassEachKg <= 0 {
			return 0, false
		}
		sum += l.MassEachKg * float64(l.Count)
	}
	return sum, len(t.Lots) > 0
}

// heaviestKg is the mass of the heaviest single part, 0 if one isn't known.
func (t Traveller) heaviestKg() float64 {
	most := 0.0
	for _, l := range t.Lots {
		if l.MassEachKg <= 0 {
			return 0
		}
		most = max(most, l.MassEachKg)
	}
	return most
}
