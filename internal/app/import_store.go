package app

import (
	"context"

	"tagalong/internal/core"
)

// Importer brings in and gives out what a shop's files say.
type Importer interface {
	// Planned reads, in one snapshot, the catalogue with those orders, nests and
	// goods that are named, or all of them where which is nil.
	Planned(ctx context.Context, which *PlannedNames) (Planned, error)
	// Import is one transaction that keeps every other command out: it reads what
	// is named as Planned does, asks plan what to store of it, stores the
	// catalogue rows and carries out the commands, each as Execute would. The
	// error of plan comes back as it is. Where a command is refused, the last
	// answer says so. In both cases, as after any error, nothing was stored.
	//
	// A command recorded before with the same hash is not done again: its answer
	// has Again set. Commands may name orders and nests only. Plan and decide
	// may be called again on a serialisation failure.
	Import(ctx context.Context, which PlannedNames, plan func(Planned) (Bring, error), decide func(core.World, core.Command) core.Outcome) ([]Answer, error)
}

// PlannedNames name rows of a plan.
type PlannedNames struct {
	Orders, Nests []string
	Goods         []core.CommandID // of the commands that received them
}

// Planned is what is planned and stocked, whatever the floor made of it since.
type Planned struct {
	Book   *core.Book
	Orders []core.Order
	Nests  []core.Nest
	Goods  []Recorded // goods received; where all are asked for, none that were taken back
}

// Bring is what one import stores.
type Bring struct {
	By       core.PersonID // empty on the server's own machine
	Source   string        // where it came from, for the record
	Rows     BookRows
	Commands []Bidden
}

// Bidden is a command with the hash of what it asks.
type Bidden struct {
	core.Command
	SHA [32]byte
}
