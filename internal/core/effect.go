package core

import "time"

// Effect is one change an event makes to the state. Exactly one field is set.
// Effects are few and plain, so that Apply needs no rules and old events mean
// for ever what they meant when they were recorded.
type Effect struct {
	PalletPut       *PalletRow       `json:"palletPut,omitempty"`       // a carrier is new, printed, moved or emptied
	LotBorn         *Lot             `json:"lotBorn,omitempty"`         // with no parts yet: a move brings them
	LotSplit        *LotSplit        `json:"lotSplit,omitempty"`        // born of another, as that is then; with no parts yet
	Moved           *Move            `json:"moved,omitempty"`           // parts go from one place to another
	Given           *FactGiven       `json:"given,omitempty"`           // a fact becomes yes or unsure
	Cleared         *FactCleared     `json:"cleared,omitempty"`         // a fact becomes no
	StepDone        *StepMark        `json:"stepDone,omitempty"`        // a step of the main or the rework route
	StepsUndone     *StepsUndone     `json:"stepsUndone,omitempty"`     // a step and the later ones
	StepBegun       *StepBegun       `json:"stepBegun,omitempty"`       // somebody started it
	StepLeft        *LotOnly         `json:"stepLeft,omitempty"`        // begun no longer
	SentToRework    *SentToRework    `json:"sentToRework,omitempty"`    // takes up a rework route
	Rejoined        *LotOnly         `json:"rejoined,omitempty"`        // back on its main route
	MadeBy          *MadeBy          `json:"madeBy,omitempty"`          // somebody is a maker of some work
	BatchUsed       *BatchUsed       `json:"batchUsed,omitempty"`       // a batch went into it
	Gauged          *Gauged          `json:"gauged,omitempty"`          // measured with an instrument
	Joined          *Joined          `json:"joined,omitempty"`          // components went into a unit
	LotPresented    *LotPresented    `json:"lotPresented,omitempty"`    // waits to be judged by sample, or no longer
	Baked           *LotOnly         `json:"baked,omitempty"`           // one more bake
	OvercoatAllowed *OvercoatAllowed `json:"overcoatAllowed,omitempty"` // a disposition lets faces be coated over
	BuildPut        *Build           `json:"buildPut,omitempty"`
	ConsignmentPut  *Consignment     `json:"consignmentPut,omitempty"`
	HoldPut         *Hold            `json:"holdPut,omitempty"`
	ProblemPut      *Problem         `json:"problemPut,omitempty"`
	SnagPut         *Snag            `json:"snagPut,omitempty"`
	AbrasivePut     *Abrasive        `json:"abrasivePut,omitempty"`
	OrderPut        *Order           `json:"orderPut,omitempty"`
	NestPut         *Nest            `json:"nestPut,omitempty"`
}

// LotSplit is a new lot that is as another one is at this point of the event:
// parts of that become it, and it becomes one more of its parents. It says no
// more than that, since whoever reads the record knows the other lot.
type LotSplit struct {
	Lot LotID `json:"lot"`
	Of  LotID `json:"of"`
}

// Move is so many parts of one lot going from one place to another, Qty > 0.
type Move struct {
	Lot  LotID   `json:"lot"`
	Item ItemRev `json:"item"`
	From Place   `json:"from"`
	To   Place   `json:"to"`
	Qty  int     `json:"qty"`
}

// FactGiven sets a fact of a lot.
type FactGiven struct {
	Lot    LotID     `json:"lot"`
	Fact   Fact      `json:"fact"`
	Value  Value     `json:"value"`
	Relied []Fact    `json:"relied,omitempty"`
	Lapses time.Time `json:"lapses,omitzero"`
	Note   string    `json:"note,omitempty"`
	Was    *Standing `json:"was,omitempty"` // how it stood before, for a correction
}

// FactCleared takes a fact of a lot away.
type FactCleared struct {
	Lot  LotID     `json:"lot"`
	Fact Fact      `json:"fact"`
	Was  *Standing `json:"was,omitempty"`
}

// StepMark is a step done, on the rework route where the lot is on one.
type StepMark struct {
	Lot  LotID     `json:"lot"`
	Step int       `json:"step"`
	At   time.Time `json:"at"`
}

// StepsUndone takes back a step and every later one, of the rework route where
// the lot is on one.
type StepsUndone struct {
	Lot  LotID `json:"lot"`
	From int   `json:"from"`
}

// StepBegun says that a step was started and not yet signed.
type StepBegun struct {
	Lot LotID `json:"lot"`
	Started
}

// SentToRework puts a lot on a rework route.
type SentToRework struct {
	Lot LotID `json:"lot"`
	Rework
}

// MadeBy records a maker of a kind of work.
type MadeBy struct {
	Lot    LotID    `json:"lot"`
	Work   string   `json:"work"`
	Person PersonID `json:"person"`
}

// BatchUsed records a batch that went into a lot.
type BatchUsed struct {
	Lot   LotID  `json:"lot"`
	Batch string `json:"batch"`
}

// Gauged records an instrument a lot was measured with, so that a hold on the
// gauge finds it.
type Gauged struct {
	Lot        LotID     `json:"lot"`
	Instrument string    `json:"instrument"`
	At         time.Time `json:"at"`
}

// Joined adds to a unit what late components bring: their descent, heats and
// batches, gauges, and the day the first of them runs out.
type Joined struct {
	Lot     LotID                `json:"lot"`
	Parents []LotID              `json:"parents"`
	Heats   []string             `json:"heats,omitempty"`
	Sheets  []string             `json:"sheets,omitempty"`
	Batches []string             `json:"batches,omitempty"`
	Gauges  map[string]time.Time `json:"gauges,omitempty"`
	Expires Date                 `json:"expires,omitempty"`
}

// OvercoatAllowed names faces a disposition lets be coated over.
type OvercoatAllowed struct {
	Lot   LotID  `json:"lot"`
	Faces []Face `json:"faces"`
	Was   []Face `json:"was,omitempty"` // which it let before, for a correction
}

// LotOnly is an effect that needs no more than its lot.
type LotOnly struct {
	Lot LotID     `json:"lot"`
	At  time.Time `json:"at,omitzero"`
}
