package core

import (
	"cmp"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Identifiers are text, so that a leading zero or a dash survives every file,
// screen and print they pass through.
type (
	// PalletCode is the printed code of a load carrier (pallet, sheet, box).
	PalletCode string
	// LotID names one lot; it is derived from the command that made the lot.
	LotID string
	// PersonID names a person; the name itself lives in one row that can be blanked.
	PersonID string
	// StationID names a place that does stages.
	StationID string
	// TabletID names an enrolled tablet.
	TabletID string
	// ItemID names a part, assembly, product, kit or material.
	ItemID string
	// CommandID is made on the device, one for every intention.
	CommandID string
	// EventID is the command's id and the event's place in its answer.
	EventID string
	// HoldID, ProblemID, SnagID, BuildCode and ConsignmentCode name the rows they
	// say.
	HoldID          string
	ProblemID       string
	SnagID          string
	BuildCode       string
	ConsignmentCode string
	// StageName, FaceName and the like are words of the shop's own tables.
	StageName string
	Face      string
)

// ItemRev is an item at one revision of its drawing.
type ItemRev struct {
	Item ItemID `json:"item"`
	Rev  string `json:"rev"`
}

func (r ItemRev) String() string { return string(r.Item) + " rev " + r.Rev }

// Key is the item and revision as one text, for maps and rows.
func (r ItemRev) Key() string { return string(r.Item) + "@" + r.Rev }

// Owner is the order line a lot is made for; the zero Owner is stock.
type Owner struct {
	Order string `json:"order,omitempty"`
	Line  int    `json:"line,omitempty"`
}

// Stock reports whether nobody has ordered what this owner holds.
func (o Owner) Stock() bool { return o.Order == "" }

func (o Owner) String() string {
	if o.Stock() {
		return "stock"
	}
	return o.Order + "/" + strconv.Itoa(o.Line)
}

// ParseOwner reads what String writes.
func ParseOwner(s string) (Owner, error) {
	if s == "stock" || s == "" {
		return Owner{}, nil
	}
	i := strings.LastIndexByte(s, '/')
	if i < 1 {
		return Owner{}, fmt.Errorf("owner %q is neither stock nor ORDER/LINE", s)
	}
	n, err := strconv.Atoi(s[i+1:])
	if err != nil || n < 1 {
		return Owner{}, fmt.Errorf("owner %q has no line number after its last slash", s)
	}
	return Owner{Order: s[:i], Line: n}, nil
}

// RouteRef is one version of a route; a lot keeps the version it was born under.
type RouteRef struct {
	Name    string `json:"name"`
	Version int    `json:"version"`
}

func (r RouteRef) String() string { return r.Name + " v" + strconv.Itoa(r.Version) }

// PlaceKind says what sort of place a move goes from or to.
type PlaceKind string

const (
	OnPallet      PlaceKind = "pallet"      // a load carrier, by its code
	InBuild       PlaceKind = "build"       // gathered for one unit build
	Inside        PlaceKind = "inside"      // a component of the assembly lot named
	InConsignment PlaceKind = "consignment" // loaded for, or on, a truck
	AtSite        PlaceKind = "site"        // received at a fitting site
	FromNest      PlaceKind = "nest"        // source: cut out of a sheet or bar
	FromSupplier  PlaceKind = "supplier"    // source: bought
	Made          PlaceKind = "made"        // source: an assembly, by its build
	Scrapped      PlaceKind = "scrap"       // sink
	CutUp         PlaceKind = "cut-up"      // sink: a sheet turned into parts
	Unexplained   PlaceKind = "unexplained" // a miscount, by pallet code
	Descent       PlaceKind = "descent"     // one lot becoming another in one event; always sums to nil
)

// Holds reports whether lots rest at the place. Sources, sinks and the
// unexplained keep no running balance, so that no row of theirs is fought over.
func (k PlaceKind) Holds() bool {
	switch k {
	case OnPallet, InBuild, Inside, InConsignment, AtSite:
		return true
	}
	return false
}

// Place is where parts are, come from or go to.
type Place struct {
	Kind PlaceKind `json:"kind"`
	Ref  string    `json:"ref,omitempty"`
}

func (p Place) String() string { return string(p.Kind) + ":" + p.Ref }

// On is the place of a load carrier.
func On(c PalletCode) Place { return Place{OnPallet, string(c)} }

// Date is a calendar day of the shop, such as a promised date. It has no zone.
type Date string // YYYY-MM-DD

// DateOf is the day t falls on in its own location.
func DateOf(t time.Time) Date { return Date(t.Format(time.DateOnly)) }

// Before reports whether d is an earlier day. A missing date is never earlier.
func (d Date) Before(e Date) bool { return d != "" && cmp.Less(d, e) }

// earlier is the earlier of two dates; one that is missing counts for nothing.
func earlier(a, b Date) Date {
	if a == "" || b.Before(a) {
		return b
	}
	return a
}

// Time is the start of the day in loc; the zero time where there is no date.
func (d Date) Time(loc *time.Location) time.Time {
	t, err := time.ParseInLocation(time.DateOnly, string(d), loc)
	if err != nil {
		return time.Time{}
	}
	return t
}
