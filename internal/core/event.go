package core

import "time"

// EventKind says what happened, in the past tense.
type EventKind string

const (
	EvGoodsReceived   EventKind = "goods-received"
	EvSeparated       EventKind = "separated"
	EvTakenIn         EventKind = "taken-in"
	EvSlotted         EventKind = "slotted" // put into another slot of the store it is in
	EvHandedOver      EventKind = "handed-over"
	EvBegun           EventKind = "begun"
	EvSigned          EventKind = "signed"
	EvClaimed         EventKind = "claimed" // done while out of touch, and not acceptable
	EvDivided         EventKind = "divided"
	EvFused           EventKind = "fused"
	EvGathered        EventKind = "gathered"
	EvReturned        EventKind = "returned" // gathered parts put back
	EvAssembled       EventKind = "assembled"
	EvProblemReported EventKind = "problem-reported"
	EvDisposed        EventKind = "disposed"
	EvHeld            EventKind = "held"
	EvReleased        EventKind = "released"
	EvSettled         EventKind = "settled"
	EvRecounted       EventKind = "recounted"
	EvOwnerChanged    EventKind = "owner-changed"
	EvPrinted         EventKind = "printed"
	EvLoaded          EventKind = "loaded"
	EvShipped         EventKind = "shipped"
	EvWeighed         EventKind = "weighed"
	EvTakenBack       EventKind = "taken-back" // carriers of the shop's own
	EvReceived        EventKind = "received"
	EvJoinedLate      EventKind = "joined-late"
	EvUnitBegun       EventKind = "unit-begun"
	EvTakenApart      EventKind = "taken-apart"
	EvSentBack        EventKind = "sent-back" // from the site
	EvTurnedUp        EventKind = "turned-up" // at the site, after it was missed there
	EvSnagReported    EventKind = "snag-reported"
	EvSnagPutRight    EventKind = "snag-put-right" // so it was said; not closed by that
	EvSnagClosed      EventKind = "snag-closed"
	EvCorrected       EventKind = "corrected"
	EvImported        EventKind = "imported"
)

// Event is one thing that happened: what, to which lots, signed by whom, and
// the effects it has. V is the version of its kind; see upcast.go.
type Event struct {
	ID   EventID   `json:"id"`
	Kind EventKind `json:"kind"`
	V    int       `json:"v"`

	Happened time.Time   `json:"happened"` // as the device says
	Station  StationID   `json:"station,omitempty"`
	Stage    StageName   `json:"stage,omitempty"`
	Step     int         `json:"step,omitempty"`
	Rules    int         `json:"rules,omitempty"` // version of the stage table it was judged by
	Signed   []Signature `json:"signed,omitempty"`

	Pallets  []PalletCode `json:"pallets,omitempty"`
	Lots     []LotCount   `json:"lots,omitempty"`
	Checks   []Reading    `json:"checks,omitempty"`
	Inputs   []Batch      `json:"inputs,omitempty"`
	Waived   []Waiver     `json:"waived,omitempty"`
	Note     string       `json:"note,omitempty"`
	Photos   []string     `json:"photos,omitempty"` // by their hashes; see PhotosOf
	Ref      string       `json:"ref,omitempty"`    // build, consignment, hold, problem, nest or slot it is about
	Corrects EventID      `json:"corrects,omitempty"`
	// Carriers of the shop's own that came back; GivenUp: that never will.
	Carriers []CarrierCount `json:"carriers,omitempty"`
	GivenUp  bool           `json:"givenUp,omitempty"`
	OnPaper  bool           `json:"onPaper,omitempty"` // signed with a pen, entered afterwards; Happened is what the paper says

	Effects []Effect `json:"effects"`
}

// LotCount is how the parts of one lot fared.
type LotCount struct {
	Lot     LotID   `json:"lot"`
	Item    ItemRev `json:"item"`
	Owner   Owner   `json:"owner"`
	Good    int     `json:"good"`
	Bad     int     `json:"bad,omitempty"`
	NotDone int     `json:"notDone,omitempty"`
	Rest    Rest    `json:"rest,omitempty"`   // of a sign-off: whether the step stands begun on what is not done; "" in version 1
	Looked  int     `json:"looked,omitempty"` // by sample: parts looked at
}

// Signature is a person's word, with what they saw when they gave it.
type Signature struct {
	Person     PersonID  `json:"person"`
	Meaning    Meaning   `json:"meaning"`
	At         time.Time `json:"at"`
	Tablet     TabletID  `json:"tablet,omitempty"`
	PrintSeen  int       `json:"printSeen,omitempty"`
	PrintState string    `json:"printState,omitempty"` // the content the person saw, one line
}

// Reading is one characteristic of a check as found.
type Reading struct {
	Lot            LotID    `json:"lot"`
	Characteristic string   `json:"characteristic"`
	Met            bool     `json:"met"`
	Value          *float64 `json:"value,omitempty"`
	Unit           string   `json:"unit,omitempty"`
	Instrument     string   `json:"instrument,omitempty"`
}

// Waiver is a rule set aside under concession; never an absolute one.
type Waiver struct {
	Code   string `json:"code"`
	Reason string `json:"reason"`
}
