package core

import (
	"slices"
	"time"
)

// Lot is like parts kept together: one item revision, owner, route version,
// steps done and facts. Facts belong to lots, never to pallets.
type Lot struct {
	ID       LotID                 `json:"id"`
	Item     ItemRev               `json:"item"`
	Owner    Owner                 `json:"owner"`
	Place    Place                 `json:"place"`
	Qty      int                   `json:"qty"`
	Lost     int                   `json:"lost,omitempty"` // of its parts, gone to the unexplained and not found again
	Route    RouteRef              `json:"route"`
	Done     []int                 `json:"done,omitempty"` // step numbers of the main route, ascending
	Rework   *Rework               `json:"rework,omitempty"`
	Facts    Facts                 `json:"facts,omitempty"`
	Heats    []string              `json:"heats,omitempty"`
	Sheets   []string              `json:"sheets,omitempty"`  // the shop's own sheet and bar numbers
	Batches  []string              `json:"batches,omitempty"` // powder, filler and the like gone into it
	Makers   map[string][]PersonID `json:"makers,omitempty"`  // by kind of work: who made the weld
	Gauges   map[string]time.Time  `json:"gauges,omitempty"`  // instruments it was measured with, and when last
	Bakes    int                   `json:"bakes,omitempty"`
	Started  *Started              `json:"started,omitempty"`
	Parents  []LotID               `json:"parents,omitempty"`
	Promised Date                  `json:"promised,omitempty"`
	Remake   ProblemID             `json:"remake,omitempty"`   // made to replace what this problem spoilt
	Unit     BuildCode             `json:"unit,omitempty"`     // the unit build that made it
	For      BuildCode             `json:"for,omitempty"`      // stock kept for this made unit, which it is to go into late
	Nest     string                `json:"nest,omitempty"`     // the nest it was cut in
	Arrived  time.Time             `json:"arrived,omitzero"`   // since when it waits for its next step
	Mixed    bool                  `json:"mixed,omitempty"`    // fused by a declared mix
	Overcoat []Face                `json:"overcoat,omitempty"` // faces a disposition lets be coated over
	// Presented is the plan of the sample it waits to be judged by.
	Presented *Presented `json:"presented,omitempty"`
	Expires   Date       `json:"expires,omitempty"` // bought goods: last day they may go into anything
	Box       PalletCode `json:"box,omitempty"`     // the carrier it left the shop on, until it is on another
}

// Live reports whether the lot's parts are in the shop, to be worked on.
func (l Lot) Live() bool {
	return l.Qty > 0 && (l.Place.Kind == OnPallet || l.Place.Kind == InBuild)
}

// DoneStep reports whether a main-route step is done.
func (l Lot) DoneStep(no int) bool { return slices.Contains(l.Done, no) }

// Rework is a route of its own, run to its end before the lot joins its main
// route again at a named step.
type Rework struct {
	Route   RouteRef  `json:"route"`
	Done    []int     `json:"done,omitempty"`
	Rejoin  int       `json:"rejoin"`
	Problem ProblemID `json:"problem"`
	Change  []Pick    `json:"change,omitempty"` // what is to come out of the unit when a late component joins it
}

// Started says who began the lot's next step.
type Started struct {
	Step    int       `json:"step"`
	By      PersonID  `json:"by"`
	Station StationID `json:"station"`
	At      time.Time `json:"at"`
}

// PalletRow is a load carrier with one printed code.
type PalletRow struct {
	Code        PalletCode      `json:"code"`
	Kind        CarrierKind     `json:"kind"`
	Label       string          `json:"label,omitempty"`   // the shop's own number, for a sheet
	Station     StationID       `json:"station,omitempty"` // where it was taken in
	Bound       StationID       `json:"bound,omitempty"`   // handed over to, not yet taken in
	Slot        string          `json:"slot,omitempty"`
	Since       time.Time       `json:"since,omitzero"` // at its station or on its way since
	Prints      []Print         `json:"prints,omitempty"`
	Consignment ConsignmentCode `json:"consignment,omitempty"`
	GoneTo      []PalletCode    `json:"goneTo,omitempty"` // where its parts went, once empty
	Version     int             `json:"version"`
}

// CarrierKind says what sort of load carrier it is.
type CarrierKind string

const (
	PalletCarrier CarrierKind = "pallet"
	SheetCarrier  CarrierKind = "sheet" // a sheet or bar, carrying itself
	BoxCarrier    CarrierKind = "box"
	Quarantine    CarrierKind = "quarantine"
)

// Print is one numbered print of a traveller and the content it showed.
type Print struct {
	No    int         `json:"no"`
	At    time.Time   `json:"at"`
	By    PersonID    `json:"by,omitempty"`
	Lines []PrintLine `json:"lines"`
}

// PrintLine is what one lot's line of a traveller says. Sign-offs and holds are
// left out, or every signature would outdate the ticket.
type PrintLine struct {
	Lot   LotID    `json:"lot"`
	Item  ItemRev  `json:"item"`
	Qty   int      `json:"qty"`
	Route RouteRef `json:"route"`
}

// Build is one unit being assembled: one unit × its bill.
type Build struct {
	Code    BuildCode `json:"code"`
	Item    ItemRev   `json:"item"`
	Owner   Owner     `json:"owner"`
	Unit    int       `json:"unit"` // 1, 2, … of the order line; 0: for stock
	Station StationID `json:"station,omitempty"`
	Opened  time.Time `json:"opened"`
	Begun   time.Time `json:"begun,omitzero"` // since when the bench works on it
	Lot     LotID     `json:"lot,omitempty"`  // what it became, once signed
}

// Consignment is what leaves on one truck.
type Consignment struct {
	Code     ConsignmentCode `json:"code"`
	Site     string          `json:"site"`
	Day      Date            `json:"day"`
	Pallets  []PalletCode    `json:"pallets,omitempty"`
	Vehicle  string          `json:"vehicle,omitempty"` // its registration
	Gone     time.Time       `json:"gone,omitzero"`
	Came     []PalletCode    `json:"came,omitempty"`     // those of Pallets that were received
	Missed   []PalletCode    `json:"missed,omitempty"`   // and those said not to have come
	Counted  []BoxOrder      `json:"counted,omitempty"`  // of boxes, where one order's parts were received by themselves
	Receipts []OrderReceipt  `json:"receipts,omitempty"` // of the orders of which nothing is awaited any more
	Received time.Time       `json:"received,omitzero"`  // since when nothing of it is awaited
	HandedTo Proof           `json:"handedTo,omitempty"` // how the driver signed for it
	// Signature is the picture of the driver's, where it was drawn on glass: its hash.
	Signature string         `json:"signature,omitempty"`
	Consents  []Consent      `json:"consents,omitempty"` // of customers whose orders left short on it
	Gross     []GrossMass    `json:"gross,omitempty"`    // of its carriers, those that were weighed
	Out       []CarrierCount `json:"out,omitempty"`      // the shop's own carriers that left with it
	Back      []CarrierCount `json:"back,omitempty"`     // of those, come back since
	Lost      []CarrierCount `json:"lost,omitempty"`     // of those, given up
}

// Awaited lists its carriers that have neither come nor been missed.
func (c Consignment) Awaited() []PalletCode {
	return slices.DeleteFunc(slices.Clone(c.Pallets), func(p PalletCode) bool {
		return slices.Contains(c.Came, p) || slices.Contains(c.Missed, p)
	})
}

// BoxOrder is what of one order is in one box.
type BoxOrder struct {
	Box   PalletCode `json:"box"`
	Order string     `json:"order"`
}

// OrderReceipt says since when nothing of an order is awaited on a consignment.
type OrderReceipt struct {
	Order string    `json:"order"`
	At    time.Time `json:"at"`
}

// HoldScope says what a hold stops.
type HoldScope string

const (
	HoldLot    HoldScope = "lot"
	HoldPallet HoldScope = "pallet"
	HoldItem   HoldScope = "item" // an item revision, by its key
	HoldHeat   HoldScope = "heat"
	HoldBatch  HoldScope = "batch"
	HoldOrder  HoldScope = "order"
	HoldGauge  HoldScope = "gauge" // everything measured with it since Since
)

// Hold stops what it names until a release.
type Hold struct {
	ID       HoldID    `json:"id"`
	Scope    HoldScope `json:"scope"`
	Ref      string    `json:"ref"`
	Since    time.Time `json:"since,omitzero"` // gauge: its last good check
	Reason   string    `json:"reason"`
	By       PersonID  `json:"by"`
	At       time.Time `json:"at"`
	Problem  ProblemID `json:"problem,omitempty"`
	Follows  HoldID    `json:"follows,omitempty"` // the hold of a pallet or unit, whose parts it stops wherever they went
	Released time.Time `json:"released,omitzero"`
	Releaser PersonID  `json:"releaser,omitempty"`
}

// Open reports whether the hold still stops anything.
func (h Hold) Open() bool { return h.Released.IsZero() }

// Disposition is what is to become of parts that are not as they should be.
type Disposition string

const (
	DisposeRework  Disposition = "rework"
	DisposeUseAsIs Disposition = "use-as-is"
	DisposeScrap   Disposition = "scrap"
	DisposeRemake  Disposition = "remake" // scrap, and make again
)

// Problem is a nonconformity: what was found, on what, and what became of it.
type Problem struct {
	ID          ProblemID   `json:"id"`
	Lot         LotID       `json:"lot"`
	Qty         int         `json:"qty"`
	Stage       StageName   `json:"stage"`
	Station     StationID   `json:"station"`
	By          PersonID    `json:"by"`
	At          time.Time   `json:"at"`
	What        string      `json:"what"`
	Wanted      Date        `json:"wanted,omitempty"` // by when the site wants it put right
	Disposition Disposition `json:"disposition,omitempty"`
	Reason      string      `json:"reason,omitempty"`
	Disposers   []PersonID  `json:"disposers,omitempty"`
	Arose       StageName   `json:"arose,omitempty"`  // the stage it came about at
	Hours       float64     `json:"hours,omitempty"`  // of work it costs
	Photos      []string    `json:"photos,omitempty"` // of what was found, by their hashes
	Closed      time.Time   `json:"closed,omitzero"`
}

// Open reports whether something still has to become of the parts.
func (p Problem) Open() bool { return p.Closed.IsZero() }

// Snag is something at a fitting site that is not as it should be and is no
// nonconformity of parts. It holds nothing up.
type Snag struct {
	ID          SnagID          `json:"id"`
	Order       string          `json:"order"`
	Site        StationID       `json:"site,omitempty"`
	Consignment ConsignmentCode `json:"consignment,omitempty"`
	Unit        LotID           `json:"unit,omitempty"` // that it is about; empty: the whole order
	What        string          `json:"what"`
	By          PersonID        `json:"by"`
	At          time.Time       `json:"at"`
	Wanted      Date            `json:"wanted,omitempty"`
	Photos      []string        `json:"photos,omitempty"` // of what was found
	Reported    EventID         `json:"reported"`
	PutRight    *PutRight       `json:"putRight,omitempty"` // as was said at the site; nil: nobody did
	Done        string          `json:"done,omitempty"`     // about it
	Closer      PersonID        `json:"closer,omitempty"`
	After       []string        `json:"after,omitempty"` // photos of what was done
	Closed      time.Time       `json:"closed,omitzero"`
	ClosedBy    EventID         `json:"closedBy,omitempty"`
}

// PutRight is what was done about a snag, as whoever did it said.
type PutRight struct {
	Done   string    `json:"done"`
	By     PersonID  `json:"by"`
	At     time.Time `json:"at"`
	Photos []string  `json:"photos,omitempty"`
	Said   EventID   `json:"said"`
}

// Open reports whether something is still to be done about it.
func (s Snag) Open() bool { return s.Closed.IsZero() }

// Abrasive is a belt or disc; it keeps every metal it touched, for life.
type Abrasive struct {
	ID      string  `json:"id"`
	Touched []Metal `json:"touched"`
}

// State is the rows a rebuild makes. Decide sees the few a command names; a
// rebuild sees all.
type State struct {
	Lots         map[LotID]Lot
	Pallets      map[PalletCode]PalletRow
	Builds       map[BuildCode]Build
	Consignments map[ConsignmentCode]Consignment
	Holds        map[HoldID]Hold
	Problems     map[ProblemID]Problem
	Abrasives    map[string]Abrasive
	Orders       map[string]Order
	Nests        map[string]Nest
	Snags        map[SnagID]Snag
}

// StateForm is the form of the state that Apply makes of the record. It is raised
// with every change that gives an event of old another state than before; rows
// of an older form are then made anew.
const StateForm = 1

// NewState is a shop in which nothing has happened.
func NewState() *State {
	return &State{
		Lots: map[LotID]Lot{}, Pallets: map[PalletCode]PalletRow{}, Builds: map[BuildCode]Build{},
		Consignments: map[ConsignmentCode]Consignment{}, Holds: map[HoldID]Hold{}, Problems: map[ProblemID]Problem{},
		Abrasives: map[string]Abrasive{}, Orders: map[string]Order{}, Nests: map[string]Nest{}, Snags: map[SnagID]Snag{},
	}
}

// LotsAt lists the lots resting at a place, by id.
func (s *State) LotsAt(p Place) []Lot {
	var out []Lot
	for _, l := range s.Lots {
		if l.Place == p && l.Qty > 0 {
			out = append(out, l)
		}
	}
	slices.SortFunc(out, func(a, b Lot) int { return compareText(string(a.ID), string(b.ID)) })
	return out
}

// PrintState is what a traveller of the pallet printed now would say.
func (s *State) PrintState(code PalletCode) []PrintLine {
	var out []PrintLine
	for _, l := range s.LotsAt(On(code)) {
		out = append(out, printLine(l))
	}
	return out
}

func printLine(l Lot) PrintLine { return PrintLine{l.ID, l.Item, l.Qty, l.Route} }
