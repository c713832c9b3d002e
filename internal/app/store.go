package app

import (
	"context"
	"errors"
	"time"

	"tagalong/internal/core"
	"tagalong/internal/photo"
	"tagalong/internal/sign"
)

// Errors a store returns, beside those of its database.
var (
	// ErrNotFound: no such row.
	ErrNotFound = errors.New("not found")
	// ErrOtherBody: the command id was used before, for something else.
	ErrOtherBody = errors.New("this command id was used before with another body")
)

// Ledger records commands and reads what they made. Execute is one transaction:
// command id, locks in order of kind and id, load, decide, append, project,
// commit. Decide may be called again on a serialisation failure.
type Ledger interface {
	// Execute records what decide returns. A command id seen before returns the
	// first answer with Again set, without calling decide, when sha agrees, and
	// ErrOtherBody when it does not. Refusals are recorded too.
	Execute(ctx context.Context, c core.Command, sha [32]byte, decide func(core.World) core.Outcome) (Answer, error)
	// NoteRefusal records a refusal made before a command reached the core (a
	// wrong PIN, a tablet no longer enrolled). It does not use the command's id up.
	NoteRefusal(ctx context.Context, r RefusalRow) error
	// Load reads the rows named, unlocked, as Execute would.
	Load(ctx context.Context, n core.Names, station core.StationID) (core.World, error)
	// LoadOrder reads an order with every lot that is or was its own, wherever
	// they are, their pallets, builds and consignments, holds and problems, and
	// the nests still to be broken out that cut for it.
	LoadOrder(ctx context.Context, order string) (core.World, error)
	// ReadOrder is LoadOrder less what isn't the order's own: other lots on its
	// pallets and trucks, and what is inside its units. What it returns is to be
	// looked at, not changed.
	ReadOrder(ctx context.Context, order string) (core.World, error)
	// ReadCarriers reads an order with the pallets that carry parts of it, all
	// that is on those, and the trucks they are loaded on.
	ReadCarriers(ctx context.Context, order string) (core.World, error)
	// LoadOrders reads each of several orders as LoadOrder does, one after the
	// other. What it returns is to be looked at, not changed.
	LoadOrders(ctx context.Context, orders []string) ([]core.World, error)
	// Book is the current catalogue, cached until its version moves on.
	Book(ctx context.Context) (*core.Book, error)
	// SaveBook stores catalogue rows (new or changed) under a new version and
	// records an imported event; unchanged rows change nothing. It reports how
	// many rows were new and how many changed.
	SaveBook(ctx context.Context, by core.PersonID, source string, rows BookRows) (added, changed int, err error)
}

// BookRows are catalogue rows to add or replace by key.
type BookRows struct {
	Shop        *Shop
	Stages      []core.Stage
	Routes      []core.Route
	Items       []core.Revision
	Stations    []core.Station
	People      []core.Person
	Instruments []core.Instrument
	Batches     []core.Batch
}

// Shop is the one row of the shop itself.
type Shop struct {
	Name    string
	Zone    string // IANA name
	Demo    bool   // invented data, and says so
	Address string // base of printed addresses, such as HTTPS://SHOP.EXAMPLE
}

// Answer is what a command came to, as stored and as sent back.
type Answer struct {
	Command core.CommandID `json:"command"`
	Again   bool           `json:"again,omitempty"` // the first answer, given once more
	Refusal *core.Refusal  `json:"refusal,omitempty"`
	Notices []core.Refusal `json:"notices,omitempty"`
	Events  []Recorded     `json:"events,omitempty"` // without effects in what is sent to browsers
}

// Recorded is an event with its place in the log.
type Recorded struct {
	Seq      int64          `json:"seq"`
	Recorded time.Time      `json:"recorded"`
	Command  core.CommandID `json:"command"`
	Device   core.Device    `json:"device"`
	core.Event
}

// Reader answers the screens' questions. Every list is bounded.
type Reader interface {
	// Shop is the shop's own row; ErrNotFound before the first start is done.
	Shop(ctx context.Context) (Shop, error)
	// AtStation lists pallets at the station and those bound for it, oldest
	// promised date first, or a part of them.
	AtStation(ctx context.Context, s core.StationID, part Part) (Standing, error)
	// InSlot lists what stands in a slot of a store, oldest promised date first;
	// what came in at no station, such as imported sheets, too.
	InSlot(ctx context.Context, s core.StationID, slot string) ([]PalletCard, error)
	// OpenSheets lists sheets and bars that are cut, or to be cut, and not yet
	// separated, with their nests.
	OpenSheets(ctx context.Context) ([]SheetCard, error)
	// OpenBuilds lists units begun at a station and not made yet, oldest first.
	OpenBuilds(ctx context.Context, s core.StationID) ([]core.Build, error)
	// Pallets lists live pallets, for scripts and the printed list.
	Pallets(ctx context.Context, limit int) ([]PalletCard, error)
	// Problems lists open nonconformities, oldest first.
	Problems(ctx context.Context) ([]core.Problem, error)
	// Register lists nonconformities, open or not, newest first.
	Register(ctx context.Context, q RegisterQuery, limit int) ([]RegisterEntry, error)
	// Missing lists lots with parts that nobody can find, the latest first.
	Missing(ctx context.Context, limit int) ([]MissingEntry, error)
	// Usual is how long stages took lately; it may be some minutes old.
	Usual(ctx context.Context) (Usual, error)
	// OpenHolds lists open holds, oldest first.
	OpenHolds(ctx context.Context) ([]core.Hold, error)
	// Wall is the shop at one glance, all read in one snapshot.
	Wall(ctx context.Context) (Wall, error)
	// Docket lists open orders by promised date, with counts by state.
	Docket(ctx context.Context, limit int) ([]OrderCard, error)
	// Provided counts what the orders named have of each item: cut in nests
	// still to be broken out, or made and resting somewhere.
	Provided(ctx context.Context, orders []string) (map[Provision]int, error)
	// Consignments lists those not yet received, and the latest received.
	Consignments(ctx context.Context, limit int) ([]core.Consignment, error)
	// CarriersOut lists the consignments whose carriers of the shop's own have not
	// all come back, those longest gone first.
	CarriersOut(ctx context.Context, limit int) ([]core.Consignment, error)
	// AtSites lists lots at fitting sites, those not accepted yet first, then by promise; of an order accepted whole, for a month.
	AtSites(ctx context.Context, sites []core.StationID, limit int) ([]core.Lot, error)
	// Sent lists the events that sent off the consignments named, and of the
	// events named those that sent one off, oldest first. They say what was on
	// which pallet when it left.
	Sent(ctx context.Context, codes []core.ConsignmentCode, events []core.EventID) ([]Recorded, error)
	// Search finds orders, customers, items, pallets and consignments.
	Search(ctx context.Context, text string, limit int) ([]Hit, error)
	// History is the events of a pallet, a lot (by descent) or an order, oldest first.
	History(ctx context.Context, q HistoryQuery) ([]Recorded, error)
	// LotHistories is the History of each of several lots, at most limit events
	// of each.
	LotHistories(ctx context.Context, lots []core.LotID, limit int) (map[core.LotID][]Recorded, error)
	// Refusals lists the latest recorded refusals, newest first.
	Refusals(ctx context.Context, q RefusalQuery) ([]RefusalRow, error)
	// Lots reads lots by id, whatever became of them.
	Lots(ctx context.Context, ids []core.LotID) ([]core.Lot, error)
	// Since follows the log: the changes after the cursor that every reader can
	// see, in (xid, seq) order below the oldest running transaction.
	Since(ctx context.Context, c Cursor, limit int) ([]Change, Cursor, error)
	// Tip is the cursor behind everything that every reader can see now.
	Tip(ctx context.Context) (Cursor, error)
	// Upcoming is closed at the next wake-up. Take it before reading the log.
	Upcoming() <-chan struct{}
	// Wait returns after a wake-up from the database or when ctx ends.
	Wait(ctx context.Context) error
}

// Cursor is how far a reader has followed the log.
type Cursor struct {
	Xid uint64
	Seq int64
}

// Change is one event's shadow for live pages.
type Change struct {
	Seq     int64
	Kind    core.EventKind
	Pallets []core.PalletCode
	Station core.StationID
}

// HistoryQuery names exactly one of its fields.
type HistoryQuery struct {
	Pallet core.PalletCode
	Lot    core.LotID
	Order  string
	Kind   core.EventKind // of a pallet's or an order's: only such events
	Limit  int
}

// Provision is an item that an order line has something of.
type Provision struct {
	Owner core.Owner
	Item  core.ItemRev
}

// RefusalRow is a recorded refusal.
type RefusalRow struct {
	At      time.Time
	Command core.CommandID
	Kind    string
	Station core.StationID
	Person  core.PersonID
	Refusal core.Refusal
	// Pallets are those the command named. They are filed as the refusal is
	// recorded, and not read again.
	Pallets []core.PalletCode
}

// RefusalQuery names what the refusals are about, by one of its fields at most;
// with none they are the whole shop's.
type RefusalQuery struct {
	// Pallet: its command or the refusal named it, or a lot while that was on it.
	Pallet core.PalletCode
	// Lot: it, what is inside it, or what it came from before it was born.
	Lot core.LotID
	// Order: the refusal named it, or a lot it owns.
	Order string
	Limit int
}

// Vault keeps what proves who somebody is. Secrets are stored hashed.
type Vault interface {
	// IssueBadge replaces a person's badge by one with this token hash and ends
	// the one before, with the office sessions of that person.
	IssueBadge(ctx context.Context, p core.PersonID, tokenSHA [32]byte, by core.PersonID) error
	// RevokeBadge ends a person's badge and their office sessions.
	RevokeBadge(ctx context.Context, p core.PersonID, by core.PersonID) error
	// BadgeHolder finds the person of a badge; Revoked says it is no longer good.
	BadgeHolder(ctx context.Context, tokenSHA [32]byte) (Holder, error)
	// HolderOf finds by person; ErrNotFound when neither badge nor PIN was ever given.
	HolderOf(ctx context.Context, p core.PersonID) (Holder, error)
	// Holders lists everybody the vault knows, by person.
	Holders(ctx context.Context) ([]Holder, error)
	// SetPIN stores a PIN's hash and starts its tries afresh.
	SetPIN(ctx context.Context, p core.PersonID, hash string, by core.PersonID) error
	// NewPINCode stores the hash of a one-time code with which a person sets
	// their own PIN; an earlier unused code of theirs ends.
	NewPINCode(ctx context.Context, codeSHA [32]byte, p core.PersonID, until time.Time, by core.PersonID) error
	// UsePINCode uses such a code up and, as SetPIN does, stores the hash of the
	// PIN its owner chose. Who issued the code and who used it both stay on
	// record. ErrNotFound when the code is unknown, another's, used or too old.
	UsePINCode(ctx context.Context, codeSHA [32]byte, p core.PersonID, hash string, now time.Time) error
	// Try reads and records the wrong-PIN counters of a person and a tablet; f
	// is called with both, under lock, and its result is stored. An empty
	// tablet is the office. Every signature passes here, so what f leaves
	// unchanged is not written, and the counters need not survive a crash of
	// the database. When f fails nothing is stored and its error comes back.
	Try(ctx context.Context, p core.PersonID, t core.TabletID, f func(person, tablet Tries) (Tries, Tries, error)) error

	// NewEnrolment stores a one-time code's hash for a station.
	NewEnrolment(ctx context.Context, codeSHA [32]byte, s core.StationID, until time.Time, by core.PersonID) error
	// Enrol uses a one-time code up and makes a tablet; ErrNotFound when the
	// code is unknown, used or too old.
	Enrol(ctx context.Context, codeSHA, secretSHA [32]byte, id core.TabletID, now time.Time) (core.StationID, error)
	// TabletBySecret finds an enrolled tablet.
	TabletBySecret(ctx context.Context, secretSHA [32]byte) (Tablet, error)
	// Tablets lists all, newest first.
	Tablets(ctx context.Context) ([]Tablet, error)
	// RevokeTablet ends an enrolment.
	RevokeTablet(ctx context.Context, id core.TabletID, by core.PersonID) error

	// NewSession, Session and EndSession keep office sign-ins.
	NewSession(ctx context.Context, tokenSHA [32]byte, p core.PersonID, until time.Time) error
	Session(ctx context.Context, tokenSHA [32]byte, now time.Time) (core.PersonID, error)
	EndSession(ctx context.Context, tokenSHA [32]byte) error
}

// Holder is a person as the vault knows them.
type Holder struct {
	Person  core.PersonID
	PINHash string    // empty: none set yet
	Revoked bool      // the badge asked for has been replaced or ended
	Badge   time.Time // when the badge now in force was issued; zero: none
}

// Tries counts the wrong PINs of a person or a tablet; every field is stored.
type Tries = sign.Tries

// Tablet is an enrolled tablet.
type Tablet struct {
	ID       core.TabletID
	Station  core.StationID
	Enrolled time.Time
	Revoked  time.Time
	LastSeen time.Time
}

// Album keeps photos, each under its hash: for good once something on record
// names it.
type Album interface {
	// KeepPhoto stores a photo. One that is there already stays as it is, with
	// whoever took it first.
	KeepPhoto(ctx context.Context, p Photo) error
	// PhotoBytes reads a photo, or its thumbnail; ErrNotFound where there is none.
	PhotoBytes(ctx context.Context, h photo.Hash, thumb bool) ([]byte, error)
	// PhotoTaker is who sent a photo first; ErrNotFound where there is none.
	PhotoTaker(ctx context.Context, h photo.Hash) (core.PersonID, error)
	// UnknownPhotos lists those of the photos named that are not there, in the
	// order they are named.
	UnknownPhotos(ctx context.Context, all []photo.Hash) ([]photo.Hash, error)
	// SweepPhotos takes away those that nothing named within a day of their being
	// sent, and says how many.
	SweepPhotos(ctx context.Context) (int, error)
}

// Photo is a picture and who took it where.
type Photo struct {
	photo.Kept
	TakenBy core.PersonID // or the bearer of a link; empty: whoever stood at the tablet
	Tablet  core.TabletID
	Station core.StationID
	At      time.Time
}

// Store is all six.
type Store interface {
	Ledger
	Importer
	Reader
	Vault
	Album
	Links
}
