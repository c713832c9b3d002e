package core

import (
	"fmt"
	"slices"
)

// Refusal says why a command may not be, as a stable code and parameters. Its
// sentence, remedy and who can help stand in the message files under Code.
type Refusal struct {
	Code   string            `json:"code"`
	Params map[string]string `json:"params,omitempty"`
	// Absolute: no concession and no setting turns this rule off.
	Absolute bool `json:"absolute,omitempty"`
	// Ask: not a no but a question; the same command under a new id with Code
	// in Confirm goes on.
	Ask bool `json:"ask,omitempty"`
	// Lots are those refused; Others, on the same pallet, may go on.
	Lots   []LotID `json:"lots,omitempty"`
	Others []LotID `json:"others,omitempty"`
}

func (r *Refusal) Error() string { return fmt.Sprintf("refused: %s %v", r.Code, r.Params) }

// refuse makes a refusal from a code and pairs of parameter name and value.
func refuse(code string, pairs ...string) *Refusal {
	r := &Refusal{Code: code, Params: map[string]string{}}
	for i := 0; i+1 < len(pairs); i += 2 {
		r.Params[pairs[i]] = pairs[i+1]
	}
	return r
}

func (r *Refusal) absolute() *Refusal { r.Absolute = true; return r }

func (r *Refusal) of(lots ...LotID) *Refusal {
	r.Lots = slices.Clone(lots)
	return r
}

func (r *Refusal) ask() *Refusal { r.Ask = true; return r }
