package app

import (
	"tagalong/internal/core"
)

// From says where a command may come from.
type From string

// Where commands come from.
const (
	FromTablet From = "tablet"           // an enrolled tablet only: it says where the work was done
	FromEither From = "tablet or office" // or the office pages
	FromOffice From = "office"           // the office pages only
)

// Policy says who may ask for one kind of command. What the shop's rules make
// of it is for the core to say.
type Policy struct {
	Kind    string
	From    From
	Signers int          // fewest signatures; 0: the tablet or the sign-in is enough
	Meaning core.Meaning // of a signature that names none; empty: the stage's own
	Roles   []core.Role  // the first signer, or without one the office caller, has one of these; empty: anybody
	Doc     string       // one sentence for the list of commands
	Example core.Body

	decode func(raw []byte) (core.Body, error)
}
