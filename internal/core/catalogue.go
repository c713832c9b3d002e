package core

import (
	"slices"
	"time"
)

// ItemKind says what sort of thing an item is.
type ItemKind string

const (
	PartItem     ItemKind = "part"
	AssemblyItem ItemKind = "assembly"
	ProductItem  ItemKind = "product"
	KitItem      ItemKind = "kit"
	BoughtItem   ItemKind = "bought"
	SheetItem    ItemKind = "sheet" // a material: one sheet
	BarItem      ItemKind = "bar"   // a material: one bar or section length
)

// Metal is a material group that abrasives and stacking care about.
type Metal string

const (
	Aluminium Metal = "aluminium"
	Stainless Metal = "stainless"
	Steel     Metal = "steel"
)

// Bare, for a colour, says that a face is to stay bare while another is coated:
// it is masked then. A face nobody names needs no masking.
const Bare = "bare"

// Finish is the colour one face is to have, or [Bare].
type Finish struct {
	Face    Face   `json:"face"`
	Colour  string `json:"colour"`
	Protect bool   `json:"protect,omitempty"` // must be masked while another colour is sprayed, though cured
}

// Component is one line of a bill.
type Component struct {
	Item ItemRev `json:"item"`
	Qty  int     `json:"qty"` // per unit, > 0
}

// Revision is an item as one revision of its drawing defines it. Lengths are
// millimetres, areas square metres, mass kilograms.
type Revision struct {
	ItemRev
	Kind       ItemKind    `json:"kind"`
	Name       string      `json:"name"` // "wall panel, louvre side"
	Grade      string      `json:"grade,omitempty"`
	Metal      Metal       `json:"metal,omitempty"`
	Thickness  float64     `json:"thickness,omitempty"` // mm
	Length     float64     `json:"length,omitempty"`    // mm, blank
	Width      float64     `json:"width,omitempty"`     // mm, blank
	NetArea    float64     `json:"netArea,omitempty"`   // m² of one face, holes taken off; 0: length × width
	MassEach   float64     `json:"massEach,omitempty"`  // kg, where it is known better than by density
	Finish     []Finish    `json:"finish,omitempty"`
	MaxBakes   int         `json:"maxBakes,omitempty"` // 0: three
	EdgesAsCut bool        `json:"edgesAsCut,omitempty"`
	FoldsFirst bool        `json:"foldsFirst,omitempty"`
	Hand       string      `json:"hand,omitempty"` // left or right, where a look-alike exists
	Route      RouteRef    `json:"route"`
	Bill       []Component `json:"bill,omitempty"`
	// Outline is the flat pattern's boundary and holes, closed polylines of x, y in mm.
	Outline [][]float64 `json:"outline,omitempty"`
}

// Faces lists the faces the revision wants coated.
func (r Revision) Faces() []Face {
	var out []Face
	for _, f := range r.Finish {
		if f.Colour != Bare {
			out = append(out, f.Face)
		}
	}
	return out
}

// Colour is the colour the revision wants on a face; empty for a bare one.
func (r Revision) Colour(f Face) string {
	for _, x := range r.Finish {
		if x.Face == f && x.Colour != Bare {
			return x.Colour
		}
	}
	return ""
}

// CharacteristicKind says how a characteristic is judged.
type CharacteristicKind string

const (
	Tick    CharacteristicKind = "tick"    // met or not
	Measure CharacteristicKind = "measure" // a number between two limits
)

// Characteristic is one thing a step's check looks at.
type Characteristic struct {
	ID         string             `json:"id"`
	Text       string             `json:"text"`
	Kind       CharacteristicKind `json:"kind"`
	Nominal    *float64           `json:"nominal,omitempty"`
	Lower      *float64           `json:"lower,omitempty"`
	Upper      *float64           `json:"upper,omitempty"`
	Unit       string             `json:"unit,omitempty"`
	Instrument string             `json:"instrument,omitempty"` // kind of gauge it must be read with
	Optional   bool               `json:"optional,omitempty"`   // may be left out (edges-broken-again, for one)
	Source     string             `json:"source,omitempty"`     // the standard or drawing it comes from
}

// Meets judges a reading against the limits. Limits belong to the good side.
func (c Characteristic) Meets(v float64) bool {
	return (c.Lower == nil || v >= *c.Lower) && (c.Upper == nil || v <= *c.Upper)
}

// Step is one stage on a route.
type Step struct {
	No            int              `json:"no"` // 10, 20, 30; the order of work
	Stage         StageName        `json:"stage"`
	Look          string           `json:"look,omitempty"` // what to watch, in a few words
	Face          Face             `json:"face,omitempty"`
	Colour        string           `json:"colour,omitempty"`
	Place         string           `json:"place,omitempty"`         // named place, for masking
	Parallel      string           `json:"parallel,omitempty"`      // steps of one letter may go in any order
	AfterCoat     bool             `json:"afterCoat,omitempty"`     // the drawing places this after coat
	ValidHours    float64          `json:"validHours,omitempty"`    // how long what it gives lasts; 0: for good
	Qualification string           `json:"qualification,omitempty"` // instead of the stage's own
	Position      string           `json:"position,omitempty"`      // welding position by ISO 6947 (PA, PB); empty: whatever the welder chooses
	Minutes       float64          `json:"minutes,omitempty"`       // work per part, for hours waiting
	Checks        []Characteristic `json:"checks,omitempty"`
	Sampling      []SampleRow      `json:"sampling,omitempty"` // by lot size, smallest first; none: every part is looked at
}

// Watch is what to look at in a few words, the welding position first.
func (s Step) Watch() string {
	switch {
	case s.Position == "":
		return s.Look
	case s.Look == "":
		return "position " + s.Position
	}
	return "position " + s.Position + "; " + s.Look
}

// Route is the ordered steps of an item, one version of it.
type Route struct {
	RouteRef
	Rework bool   `json:"rework,omitempty"` // joins its main route again when it ends
	Steps  []Step `json:"steps"`
}

// Step finds a step by number.
func (r Route) Step(no int) (Step, bool) {
	i := slices.IndexFunc(r.Steps, func(s Step) bool { return s.No == no })
	if i < 0 {
		return Step{}, false
	}
	return r.Steps[i], true
}

// Has reports whether the route does the stage anywhere.
func (r Route) Has(stage StageName) bool {
	return slices.ContainsFunc(r.Steps, func(s Step) bool { return s.Stage == stage })
}

// Station is a place that does stages.
type Station struct {
	ID       StationID   `json:"id"`
	Name     string      `json:"name"`
	Stages   []StageName `json:"stages"`
	Abrasive string      `json:"abrasive,omitempty"` // the belt or disc mounted now
	Metal    Metal       `json:"metal,omitempty"`    // what that abrasive is kept for
	Capacity int         `json:"capacity,omitempty"` // pallets that fit; 0: no limit
	Bench    bool        `json:"bench,omitempty"`    // does part separation
	Dock     bool        `json:"dock,omitempty"`
	Site     bool        `json:"site,omitempty"`   // a fitting site
	Km       int         `json:"km,omitempty"`     // by road from the shop; 0: not laid down
	Abroad   bool        `json:"abroad,omitempty"` // across a border that asks for marked timber
	Order    int         `json:"order"`
}

// Does reports whether the station does a stage.
func (s Station) Does(n StageName) bool { return slices.Contains(s.Stages, n) }

// Role is what a person may do; one person may have several.
type Role string

const (
	Separator  Role = "separator"
	Operator   Role = "operator"
	Inspector  Role = "inspector"
	Dispatcher Role = "dispatcher"
	Fitter     Role = "fitter"
	Manager    Role = "manager"
	Service    Role = "service"
	Quality    Role = "quality"
	Admin      Role = "admin"
)

// Roles lists every role, in the order forms show them.
var Roles = []Role{Separator, Operator, Inspector, Dispatcher, Fitter, Manager, Service, Quality, Admin}

// Qualification lets a person do a process, within limits, until one of two
// clocks stops it: the end date, and the last confirmation's due date.
type Qualification struct {
	Process      string  `json:"process"`
	Metal        Metal   `json:"metal,omitempty"`        // empty: any
	MaxThickness float64 `json:"maxThickness,omitempty"` // mm; 0: any
	ValidTo      Date    `json:"validTo"`
	ConfirmBy    Date    `json:"confirmBy,omitempty"`
	// Positions are those a welder was tested in, by the designations of ISO 6947
	// (PA, PB, PC and so on); empty: any.
	Positions []string `json:"positions,omitempty"`
}

// Person is somebody with a badge. Secrets are not here.
type Person struct {
	ID             PersonID        `json:"id"`
	Name           string          `json:"name"`
	Roles          []Role          `json:"roles"`
	Qualifications []Qualification `json:"qualifications,omitempty"`
	Left           bool            `json:"left,omitempty"` // no longer here: signs nothing
}

// Is reports whether the person has one of the roles.
func (p Person) Is(roles ...Role) bool {
	return slices.ContainsFunc(roles, func(r Role) bool { return slices.Contains(p.Roles, r) })
}

// Instrument is a gauge with a calibration that ends.
type Instrument struct {
	ID    string `json:"id"`
	Kind  string `json:"kind"` // "coating thickness gauge"
	Name  string `json:"name"`
	DueBy Date   `json:"dueBy"` // last day its calibration holds
}

// Batch is a batch of something a step uses up: powder, filler, bath, foil.
type Batch struct {
	Kind    string `json:"kind"`
	Batch   string `json:"batch"`
	Colour  string `json:"colour,omitempty"`
	Expires Date   `json:"expires,omitempty"`
}

// Book is what the shop has laid down: stages, routes, items, stations, people
// and gauges. A Book is never changed once read; a change makes a new one.
type Book struct {
	Version     int64
	Zone        *time.Location
	Shop        string
	Table       StageTable
	Routes      map[RouteRef]Route
	Items       map[ItemRev]Revision
	Stations    map[StationID]Station
	People      map[PersonID]Person
	Instruments map[string]Instrument
	Batches     map[string]Batch // by batch number
}

// OrderLine is one line a customer asked for.
type OrderLine struct {
	Owner
	Item ItemRev `json:"item"`
	Qty  int     `json:"qty"`
}

// Order is what a customer asked for, and what was promised.
type Order struct {
	No        string      `json:"no"`
	Customer  string      `json:"customer"`
	Site      string      `json:"site,omitempty"` // fitting site
	Reference string      `json:"reference,omitempty"`
	Promised  Date        `json:"promised"`
	LongHaul  bool        `json:"longHaul,omitempty"`
	Priority  int         `json:"priority,omitempty"` // higher goes first
	Consent   bool        `json:"consent,omitempty"`  // customer agrees to a part shipment
	Lines     []OrderLine `json:"lines"`
}

// NestPart is one line of a nest: so many of a part, for somebody.
type NestPart struct {
	No    int       `json:"no"`
	Item  ItemRev   `json:"item"`
	Owner Owner     `json:"owner"`
	Qty   int       `json:"qty"`
	For   BuildCode `json:"for,omitempty"` // the made unit it is to go into late; it is stock until it does
}

// Nest is the parts cut from one sheet or bar.
type Nest struct {
	ID        string     `json:"id"`
	Material  ItemRev    `json:"material"`
	Parts     []NestPart `json:"parts"`
	Sheet     PalletCode `json:"sheet,omitempty"`     // the sheet it was cut from, once it was
	Separated bool       `json:"separated,omitempty"` // ticked off
	Wanted    Date       `json:"wanted,omitempty"`    // a remake's: by when a site wants it
}
