package core

import (
	"fmt"
	"time"
)

// Command is one intention of a person or a tablet. Signers were authenticated
// before: the core judges whether they may, not who they are.
type Command struct {
	ID       CommandID
	Happened time.Time // when it happened, by the device
	Device   Device
	Station  StationID
	Signers  []Signature
	Body     Body
	Confirm  []string // codes of questions the person has answered yes to
	Waive    []Waiver // rules to set aside under concession
}

// Device says how far the device's clock can be trusted.
type Device struct {
	Tablet      TabletID  `json:"tablet,omitempty"`
	Sequence    int64     `json:"sequence,omitempty"`   // counts the device's commands
	LastContact time.Time `json:"lastContact,omitzero"` // the server's time at its last answer
	Offline     bool      `json:"offline,omitempty"`    // recorded while out of touch
}

// Body is what a command asks for. Its kind is the last word of its endpoint.
type Body interface {
	// Kind is the command's name, such as "sign-off".
	Kind() string
	// Names lists the rows the decision must see and the transaction must lock.
	Names() Names
}

// Names are the rows a command is about. A lot brings its pallet or build, its
// owner's order and its open problems; a problem brings every lot it holds; a
// build and a consignment bring their lots; an order brings its builds, and a
// consignment what of its orders has left before; open holds always come. A
// name that does not exist brings nothing, and the decision says so.
type Names struct {
	Pallets      []PalletCode
	Lots         []LotID
	Builds       []BuildCode
	Consignments []ConsignmentCode
	Holds        []HoldID
	Problems     []ProblemID
	Snags        []SnagID
	Abrasives    []string // beside the station's own
	Orders       []string
	Nests        []string
	Events       []EventID // for corrections: the event and every later one of its lots
	Whole        bool      // also the orders of the lots, builds and nests, and, to be looked at, every lot of these and of the orders named
	Inside       []LotID   // also every component inside these units, and their builds
	Slot         string    // also the pallets in this slot of the command's station; the slot itself is locked
	Alone        bool      // nothing else is decided meanwhile: what it says may be about rows nobody can name
	Near         bool      // also every lot on pallets at, or bound for, the command's station
}

// World is all a decision may look at.
type World struct {
	Now   time.Time // the one application clock
	Book  *Book
	State *State
	Fresh []PalletCode // unused pallet codes, for carriers the command makes
	Codes FreshCodes   // and the other kinds
	Past  []Event      // events asked for by Names.Events, oldest first
}

// FreshCodes are unused codes for what a command may make.
type FreshCodes struct {
	Sheets       []PalletCode
	Builds       []BuildCode
	Consignments []ConsignmentCode
}

// Outcome is what a decision comes to: events to record, or one refusal.
// Notices are said beside success and stop nothing.
type Outcome struct {
	Events  []Event
	Refusal *Refusal
	Notices []Refusal
}

// ReceiveGoods takes in a sheet, a bar or a bought item (goods-in).
type ReceiveGoods struct {
	Item  ItemRev `json:"item"`
	Qty   int     `json:"qty"` // sheets and bars: one carrier each
	Heat  string  `json:"heat,omitempty"`
	Label string  `json:"label,omitempty"` // the shop's own number
	Slot  string  `json:"slot,omitempty"`
	Owner Owner   `json:"owner"`
	// Identified says the mark on the metal was read and agrees with its paper.
	Identified bool           `json:"identified"`
	Expires    Date           `json:"expires,omitempty"` // last day it may go into anything
	Checks     []CheckReading `json:"checks,omitempty"`  // of the goods-in step of its route
	Note       string         `json:"note,omitempty"`    // its certificate's number
	// Before says that it came before the record began, and was checked then. Only
	// an import says so: no request can carry it.
	Before bool `json:"-"`
}

// Separate breaks the parts out of a cut sheet and puts them on pallets.
type Separate struct {
	Sheet PalletCode `json:"sheet"`
	Nest  string     `json:"nest"`
	Ticks []PartTick `json:"ticks"`
	// Checks are those of the sheet's own step; a part's are with its tick.
	Checks []CheckReading `json:"checks,omitempty"`
	Note   string         `json:"note,omitempty"`
}

// PartTick says how one nest line came out: Good parts on a pallet, the rest
// damaged or missing. Asked = Good + Damaged + Missing − Extra must hold.
type PartTick struct {
	Line    int        `json:"line"`
	Good    int        `json:"good"` // on To, extra ones included
	Damaged int        `json:"damaged,omitempty"`
	Missing int        `json:"missing,omitempty"`
	Extra   int        `json:"extra,omitempty"`
	To      PalletCode `json:"to"` // empty, or "new:A": a fresh pallet for all with that letter
	// Checks are those of the cut and separate steps on the part's own route.
	Checks []CheckReading `json:"checks,omitempty"`
}

// TakeIn says a pallet has come to the command's station, and in a store, into
// which slot. For a pallet in the store already it names another slot.
type TakeIn struct {
	Pallet    PalletCode `json:"pallet"`
	PrintSeen int        `json:"printSeen,omitempty"`
	Slot      string     `json:"slot,omitempty"`
}

// HandOver sends a pallet on to a station.
type HandOver struct {
	Pallet PalletCode `json:"pallet"`
	To     StationID  `json:"to"`
	Note   string     `json:"note,omitempty"`
}

// Begin says that work on a stage has started.
type Begin struct {
	Pallet PalletCode `json:"pallet"`
	Stage  StageName  `json:"stage"`
	Lots   []LotID    `json:"lots,omitempty"` // empty: all whose next step it is
}

// SignOff records a stage as done on lots of one pallet.
type SignOff struct {
	Pallet    PalletCode `json:"pallet"`
	PrintSeen int        `json:"printSeen,omitempty"`
	Stage     StageName  `json:"stage"`
	Lots      []LotWork  `json:"lots"`
	Inputs    []string   `json:"inputs,omitempty"` // batch numbers
	Abrasive  string     `json:"abrasive,omitempty"`
	HandTo    StationID  `json:"handTo,omitempty"` // hand over in the same motion: what was put down elsewhere, else the pallet
	Note      string     `json:"note,omitempty"`
	// OnPaper is when it was signed with a pen, where the traveller's boxes are
	// entered afterwards: by who did the work and one who compared the paper.
	OnPaper time.Time `json:"onPaper,omitzero"`
	Photos  []string  `json:"photos,omitempty"` // of what was found; see PhotosOf
}

// LotWork is how one lot fared: Good + Bad + NotDone must equal its count.
type LotWork struct {
	Lot     LotID          `json:"lot"`
	Good    int            `json:"good"`
	Bad     int            `json:"bad,omitempty"`
	NotDone int            `json:"notDone,omitempty"`
	Rest    Rest           `json:"rest,omitempty"`   // whether the step is begun on what is not done
	Looked  int            `json:"looked,omitempty"` // parts in the sample, bad ones included, where the step has a plan
	Why     string         `json:"why,omitempty"`    // what is wrong with the bad ones
	Onto    []Onto         `json:"onto,omitempty"`   // where good ones were put down; the rest of them stay
	Checks  []CheckReading `json:"checks,omitempty"`
}

// Rest says whether the step is begun on the parts that a sign-off calls not done. Only
// who stands before them knows: twelve of twenty rounded leaves eight untouched, or eight rounded on one side.
type Rest string

// RestAsBefore leaves them as the lot was, and begun where not one part came out good.
const (
	RestAsBefore Rest = ""
	RestBegun    Rest = "begun" // they stay in work
	RestWaits    Rest = "waits" // nothing is done to them: they wait again, and what lapses is judged when they are done
)

// UnmarshalText reads a Rest; any other text is an error.
func (r *Rest) UnmarshalText(b []byte) error {
	switch x := Rest(b); x {
	case RestAsBefore, RestBegun, RestWaits:
		*r = x
		return nil
	}
	return fmt.Errorf("what is not done is %q; it can be %q or %q", b, RestBegun, RestWaits)
}

// Onto is so many good parts put down on a pallet as they come off the work.
type Onto struct {
	Pallet PalletCode `json:"pallet"` // or "new:A": a fresh pallet for all with that letter
	Qty    int        `json:"qty"`
}

// CheckReading is a characteristic as the tablet sends it.
type CheckReading struct {
	Characteristic string   `json:"characteristic"`
	Met            bool     `json:"met"`
	Value          *float64 `json:"value,omitempty"`
	Instrument     string   `json:"instrument,omitempty"`
}

// Divide moves parts of lots from one pallet to another (re-palletising).
type Divide struct {
	From      PalletCode `json:"from"`
	To        PalletCode `json:"to"` // empty: a fresh pallet
	PrintSeen int        `json:"printSeen,omitempty"`
	Picks     []Pick     `json:"picks"`
}

// Pick is so many parts of a lot.
type Pick struct {
	Lot LotID `json:"lot"`
	Qty int   `json:"qty"`
}

// Fuse makes one lot of several on a pallet: equal ones, or a declared mix.
type Fuse struct {
	Pallet PalletCode `json:"pallet"`
	Lots   []LotID    `json:"lots"`
	Mix    bool       `json:"mix"` // declared: facts that differ become unsure
}

// Gather takes components for one unit off pallets into its build.
type Gather struct {
	Build BuildCode `json:"build,omitempty"` // empty: the next unit of Owner's Item
	Item  ItemRev   `json:"item"`
	Owner Owner     `json:"owner"`
	Picks []Pick    `json:"picks,omitempty"` // empty: what fits, from pallets at the station
}

// PutBack returns gathered parts to a pallet.
type PutBack struct {
	Build BuildCode  `json:"build"`
	To    PalletCode `json:"to"` // empty: a fresh pallet
	Picks []Pick     `json:"picks"`
}

// BeginUnit says that the bench starts on a unit, its whole set before it.
type BeginUnit struct {
	Build BuildCode `json:"build"`
}

// TakeApart undoes a made unit: its components lie on a pallet again, and its
// build stands open, to be gathered anew.
type TakeApart struct {
	Pallet PalletCode `json:"pallet"`
	Unit   LotID      `json:"unit"`
	To     PalletCode `json:"to,omitempty"` // empty: a fresh pallet
	Why    string     `json:"why"`
}

// Assemble signs the first step of a made assembly: its components leave their
// build, the unit is on a pallet.
type Assemble struct {
	Build  BuildCode      `json:"build"`
	To     PalletCode     `json:"to"` // empty: a fresh pallet
	Checks []CheckReading `json:"checks,omitempty"`
	Inputs []string       `json:"inputs,omitempty"`
	Note   string         `json:"note,omitempty"`
}

// JoinLate signs that late components went into a made unit, in the place of
// others that came out of it. The unit then stands as its bill asks, and its
// weld, where it has one, is to be made and inspected again.
type JoinLate struct {
	Pallet    PalletCode     `json:"pallet"`
	PrintSeen int            `json:"printSeen,omitempty"`
	Unit      LotID          `json:"unit"`
	In        []Pick         `json:"in"`  // off pallets at the station
	Out       []Pick         `json:"out"` // of what is inside; they go to quarantine, as stock
	Why       string         `json:"why"` // what was wrong with those that came out
	Checks    []CheckReading `json:"checks,omitempty"`
	Note      string         `json:"note,omitempty"`
}

// ReportProblem records a nonconformity; the bad parts go to quarantine. Those
// found at a site stay there, held.
type ReportProblem struct {
	Pallet PalletCode `json:"pallet"` // empty: at the site
	Lot    LotID      `json:"lot"`
	Qty    int        `json:"qty"`
	What   string     `json:"what"`
	To     PalletCode `json:"to,omitempty"`     // an existing quarantine pallet; empty: a fresh one
	Stay   bool       `json:"stay,omitempty"`   // too big to move: the whole lot stays, held
	Wanted Date       `json:"wanted,omitempty"` // at the site: by when it is to be put right
	Photos []string   `json:"photos,omitempty"` // see PhotosOf
}

// Dispose says what becomes of a problem's parts.
type Dispose struct {
	Problem     ProblemID   `json:"problem"`
	Disposition Disposition `json:"disposition"`
	Reason      string      `json:"reason"`
	Route       RouteRef    `json:"route,omitzero"` // rework
	Rejoin      int         `json:"rejoin,omitempty"`
	Clear       []string    `json:"clear,omitempty"` // facts found not to hold
	Overcoat    []Face      `json:"overcoat,omitempty"`
	Arose       StageName   `json:"arose,omitempty"`  // where it came about, which is not always where it was found
	Hours       float64     `json:"hours,omitempty"`  // of work it costs, as judged now
	Unit        LotID       `json:"unit,omitempty"`   // rework of a made unit: whose components are to be changed for others
	Change      []Pick      `json:"change,omitempty"` // of the lots inside it, which and how many
}

// PlaceHold stops something.
type PlaceHold struct {
	Scope  HoldScope `json:"scope"`
	Ref    string    `json:"ref"`
	Since  time.Time `json:"since,omitzero"`
	Reason string    `json:"reason"`
}

// LiftHold lets it go on.
type LiftHold struct {
	Hold   HoldID `json:"hold"`
	Reason string `json:"reason"`
}

// Settle makes an unsure fact yes or no, by looking.
type Settle struct {
	Lot    LotID  `json:"lot"`
	Fact   Fact   `json:"fact"`
	Value  Value  `json:"value"`
	Reason string `json:"reason"`
}

// Recount says how many parts of a lot are really there. Whoever was told beside
// the count how many are recorded is not asked whether it differs; with Recorded
// zero, or no longer what is on record, they are.
type Recount struct {
	Pallet   PalletCode `json:"pallet"`
	Lot      LotID      `json:"lot"`
	Found    int        `json:"found"`
	Recorded int        `json:"recorded,omitempty"`
	Reason   string     `json:"reason"`
}

// ChangeOwner lends parts to another order line, or takes them to stock.
type ChangeOwner struct {
	Pallet PalletCode `json:"pallet"`
	Lot    LotID      `json:"lot"`
	Qty    int        `json:"qty"`
	To     Owner      `json:"to"`
	Reason string     `json:"reason"`
}

// PrintTraveller numbers a print of a pallet's traveller.
type PrintTraveller struct {
	Pallet PalletCode `json:"pallet"`
}

// Load puts packed pallets on a consignment.
type Load struct {
	Consignment ConsignmentCode `json:"consignment,omitempty"` // empty: a new one
	Site        string          `json:"site,omitempty"`
	Day         Date            `json:"day,omitempty"`
	Pallets     []PalletCode    `json:"pallets"`
}

// Weigh says what carriers of a consignment weigh, before it leaves.
type Weigh struct {
	Consignment ConsignmentCode `json:"consignment"`
	Gross       []GrossMass     `json:"gross"` // of those weighed
}

// Ship sends a consignment off.
type Ship struct {
	Consignment ConsignmentCode `json:"consignment"`
	Vehicle     string          `json:"vehicle"`            // its registration, as on the plate; who drives it is on paper
	HandedTo    Proof           `json:"handedTo"`           // how the driver signed for the load
	Consents    []Consent       `json:"consents,omitempty"` // for orders that leave short
	Carriers    []CarrierCount  `json:"carriers,omitempty"` // of the shop's own, to come back
	Photos      []string        `json:"photos,omitempty"`   // the driver's signature drawn on glass; see PhotosOf
}

// TakeBack says that carriers of the shop's own came back from where a
// consignment took them, or never will.
type TakeBack struct {
	Consignment ConsignmentCode `json:"consignment"`
	Carriers    []CarrierCount  `json:"carriers"`
	Lost        bool            `json:"lost,omitempty"` // given up; Note says why
	Note        string          `json:"note,omitempty"`
}

// ReceiveAtSite says that carriers of a consignment arrived, and how their parts
// were found. What is not counted came as listed.
type ReceiveAtSite struct {
	Consignment ConsignmentCode `json:"consignment"`
	Order       string          `json:"order,omitempty"`   // only its parts; empty: whoever's
	Boxes       []PalletCode    `json:"boxes,omitempty"`   // empty: all that are awaited
	Missing     []PalletCode    `json:"missing,omitempty"` // said not to have come; they are awaited no longer
	Counts      []SiteCount     `json:"counts,omitempty"`
	Note        string          `json:"note,omitempty"`
	Photos      []string        `json:"photos,omitempty"` // see PhotosOf
}

// SiteCount is a lot that did not come as listed: how many came, and how many of
// those are damaged.
type SiteCount struct {
	Lot     LotID  `json:"lot"`
	Found   int    `json:"found"`
	Damaged int    `json:"damaged,omitempty"`
	Why     string `json:"why,omitempty"`    // what is wrong with the damaged ones
	Wanted  Date   `json:"wanted,omitempty"` // by when the site wants them put right
}

// WorkAtSite signs a stage of the fitting site on parts received there.
// Returned parts travel back on a pallet, held until somebody says what becomes
// of them.
type WorkAtSite struct {
	Stage  StageName  `json:"stage"`
	Picks  []Pick     `json:"picks"`
	To     PalletCode `json:"to,omitempty"`     // return: an empty pallet of the site; empty: a fresh one
	Note   string     `json:"note,omitempty"`   // return: why
	Photos []string   `json:"photos,omitempty"` // see PhotosOf
}

// TurnUp says that parts which were missing when their consignment was counted
// are at its site after all.
type TurnUp struct {
	Consignment ConsignmentCode `json:"consignment"`
	Finds       []Pick          `json:"finds"`
	Note        string          `json:"note,omitempty"`   // where they were
	Photos      []string        `json:"photos,omitempty"` // see PhotosOf
}

// ReportSnag records what is not as it should be at a fitting site and is no
// nonconformity of parts: a scratched wall, a door that binds. Nothing is held.
type ReportSnag struct {
	Order       string          `json:"order,omitempty"`       // empty: that of Unit
	Consignment ConsignmentCode `json:"consignment,omitempty"` // that what it is about came with
	Unit        LotID           `json:"unit,omitempty"`        // at the site, that it is about
	What        string          `json:"what"`
	Wanted      Date            `json:"wanted,omitempty"` // by when it is to be put right
	Photos      []string        `json:"photos,omitempty"` // see PhotosOf
}

// PutRightSnag says, at a fitting site, that a snag is put right. It stays open
// until somebody of the shop has closed it.
type PutRightSnag struct {
	Snag   SnagID   `json:"snag"`
	Done   string   `json:"done"`
	Photos []string `json:"photos,omitempty"` // see PhotosOf
}

// CloseSnag says what was done about a snag.
type CloseSnag struct {
	Snag   SnagID   `json:"snag"`
	Done   string   `json:"done"`
	Photos []string `json:"photos,omitempty"` // see PhotosOf
}

// Correct takes back what an earlier event did, where that is still possible.
type Correct struct {
	Event  EventID `json:"event"`
	Reason string  `json:"reason"`
}

// Enlist brings orders and nests from an import into the state.
type Enlist struct {
	Orders []Order `json:"orders,omitempty"`
	Nests  []Nest  `json:"nests,omitempty"`
	Source string  `json:"source"`
}
