package core

// Mark is a stage's symbol on a drawn route: the flow process chart symbols of
// production engineering (ASME standard of 1947, from memory).
type Mark string

const (
	Operation  Mark = "operation"  // circle
	Inspection Mark = "inspection" // square
	Transport  Mark = "transport"  // arrow
	Storage    Mark = "storage"    // triangle
)

// Trait is something the revision or the route asks, never something that was
// done: a forgotten weld must not pass for "not welded".
type Trait string

const (
	AsksCoat        Trait = "asks-coat"         // some face has a colour
	EdgesAsCut      Trait = "edges-as-cut"      // drawing leaves edges as cut
	BareAsCut       Trait = "bare-as-cut"       // edges as cut, and no coat asked
	FoldsFirst      Trait = "folds-first"       // drawing folds before rounding
	RouteWelds      Trait = "route-welds"       // the lot's main route has a weld
	AsksDressing    Trait = "asks-dressing"     // a weld-dress stands before this step
	PlacedAfterCoat Trait = "placed-after-coat" // drawing places this step after coat
	IsKit           Trait = "is-kit"
	IsBought        Trait = "is-bought"
	OnRework        Trait = "on-rework"    // the lot is on a rework route
	IsAssembled     Trait = "is-assembled" // has a bill: its components are judged as they are joined
)

// Scope says which faces or named places of a fact a condition speaks of.
type Scope string

const (
	Itself    Scope = ""           // a fact without faces
	ThisFace  Scope = "this-face"  // the step's face; every asked face where the step names none
	AskedFace Scope = "asked-face" // every face the revision wants coated
	AnyFace   Scope = "any-face"   // any face or place at all
	ThisPlace Scope = "this-place" // the step's named place
	CoatFaces Scope = "coat-faces" // every face that carries a coat now
)

// Condition is one row of what a stage needs, forbids or gives.
type Condition struct {
	Fact     string  `json:"fact"`
	Scope    Scope   `json:"scope,omitempty"`
	If       []Trait `json:"if,omitempty"`       // counts only where all these hold
	Unless   []Trait `json:"unless,omitempty"`   // does not count where any of these holds
	Absolute bool    `json:"absolute,omitempty"` // no concession waives it, and it is told first
}

// Clearing is one row of what a stage takes away.
type Clearing struct {
	Condition
	// UnlessCheck spares the fact when the step records this characteristic as
	// met, such as "edges-broken-again" after weld dressing.
	UnlessCheck string `json:"unlessCheck,omitempty"`
}

// StageCheck is a characteristic that a stage's step must have among its own
// checks, to be answered well, such as the label on edges left sharp.
type StageCheck struct {
	Characteristic string  `json:"characteristic"`
	If             []Trait `json:"if,omitempty"`
}

// Meaning is what a signature says its signer did.
type Meaning string

const (
	MeantMade      Meaning = "made"
	MeantInspected Meaning = "inspected"
	MeantReleased  Meaning = "released"
	MeantReceived  Meaning = "received"
	MeantApproved  Meaning = "approved" // second signer of a concession or correction
)

// Predicate names a rule that rows of facts can't say; see predicate.go.
type Predicate string

const (
	BuildComplete   Predicate = "build-complete"    // every component there, done, unheld
	InDate          Predicate = "in-date"           // nothing bought in it has run out
	OtherFacesSafe  Predicate = "other-faces-safe"  // faces of other colours masked or cured
	FaceTakesCoat   Predicate = "face-takes-coat"   // not coated already, nothing uncured beside it
	BakesLeft       Predicate = "bakes-left"        // the powder allows another bake
	CoatToStrip     Predicate = "coat-to-strip"     // some face coated or unsure
	NoOpenStop      Predicate = "no-open-stop"      // no hold, no open nonconformity; absolute
	SomeFaceCoated  Predicate = "some-face-coated"  // something to cure
	AbrasiveSuits   Predicate = "abrasive-suits"    // the belt never touched the other metal; absolute
	EveryPartJudged Predicate = "every-part-judged" // sort: good and bad add up
)

// Stage is a kind of work, and what must be so before, is so after, and is no
// longer so after it. Stages are data; a shop may add more as rows.
type Stage struct {
	Name       StageName    `json:"name"`
	Title      string       `json:"title"` // as an imperative: "Round the edges"
	Group      string       `json:"group"` // the row of the wall it is counted in; empty: none
	Mark       Mark         `json:"mark"`
	Meaning    Meaning      `json:"meaning"`
	Needs      []Condition  `json:"needs,omitempty"`
	Forbids    []Condition  `json:"forbids,omitempty"`
	Gives      []Condition  `json:"gives,omitempty"`
	Clears     []Clearing   `json:"clears,omitempty"`
	Predicates []Predicate  `json:"predicates,omitempty"`
	Asks       []StageCheck `json:"asks,omitempty"`

	Roles         []Role   `json:"roles,omitempty"`         // who may sign it
	Hold          bool     `json:"hold,omitempty"`          // a hold point: nobody passes until released
	Work          string   `json:"work,omitempty"`          // signing makes one a maker of this work ("weld")
	NotMakerOf    string   `json:"notMakerOf,omitempty"`    // the signer must have made none of this work
	Qualification string   `json:"qualification,omitempty"` // process the signer must be qualified for
	Inputs        []string `json:"inputs,omitempty"`        // kinds of batch the sign-off must name: powder, filler
	Abrades       bool     `json:"abrades,omitempty"`       // an abrasive touches the metal
	Caution       string   `json:"caution,omitempty"`       // key of the caution shown, see the message files
	ServerOnly    bool     `json:"serverOnly,omitempty"`    // may not be signed offline
	Site          bool     `json:"site,omitempty"`          // work of the fitting site, on no route
}

// StageTable is a set of stages under one version number; events carry it.
type StageTable struct {
	Version int
	Stages  map[StageName]Stage
	Order   []StageName // the table's own order, as columns and lists show it
}

// Stage looks a stage up.
func (t StageTable) Stage(n StageName) (Stage, bool) {
	s, ok := t.Stages[n]
	return s, ok
}
