package app

import (
	"context"
	"encoding/json"
	"time"

	"tagalong/internal/core"
)

// MaxRequest is the most bytes a command's request may have.
const MaxRequest = 64 << 10

// Request is a command as a device sends it; see [Service.Do].
type Request struct {
	ID          core.CommandID  `json:"id"` // a UUID made on the device, one for every intention
	Happened    time.Time       `json:"happened"`
	Sequence    int64           `json:"sequence,omitempty"`   // counts the device's commands
	LastContact time.Time       `json:"lastContact,omitzero"` // the server's time at its last answer
	Offline     bool            `json:"offline,omitempty"`
	PrintSeen   int             `json:"printSeen,omitempty"` // number of the print the signer saw
	Confirm     []string        `json:"confirm,omitempty"`   // codes of questions answered yes
	Waive       []core.Waiver   `json:"waive,omitempty"`     // rules to set aside under concession
	Body        json.RawMessage `json:"body"`                // of the kind the endpoint names
	Sign        []Sign          `json:"sign,omitempty"`
	Seal        json.RawMessage `json:"seal,omitempty"` // room for PINs sealed offline
}

// Sign is one person's signature as it is given: the badge's token and the PIN.
type Sign struct {
	Badge string `json:"badge,omitempty"`
	// Person stands for the badge of the person signed in to the office page
	// the command comes from, and of nobody else.
	Person  core.PersonID `json:"person,omitempty"`
	PIN     string        `json:"pin"`
	Meaning core.Meaning  `json:"meaning,omitempty"` // empty: the stage's or the command's own
}

// Do carries out one command of a kind: it proves who signs, decides, and
// records. A command the rules refuse comes back as *[Refused], recorded; so
// does a request that never reached them. The same id again returns the first
// answer, with Again set.
func (s *Service) Do(ctx context.Context, caller Caller, kind string, req Request) (Answer, error) {
	return Answer{}, Refuse("unknown-command", "kind", kind)
}
