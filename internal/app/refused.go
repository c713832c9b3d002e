package app

import (
	"fmt"
	"time"

	"tagalong/internal/core"
)

// Refused is the error of everything a person was told no to, by the core or
// before it. Its sentence and remedy stand in the message files under the
// refusal's code.
type Refused struct {
	Refusal core.Refusal
	// After is how long to wait before another try; zero: waiting doesn't help.
	After time.Duration
}

func (r *Refused) Error() string { return fmt.Sprintf("refused: %s", r.Refusal.Code) }

// Refuse makes a Refused from a code and pairs of parameter name and value.
func Refuse(code string, pairs ...string) *Refused {
	r := &Refused{Refusal: core.Refusal{Code: code}}
	for i := 0; i+1 < len(pairs); i += 2 {
		if r.Refusal.Params == nil {
			r.Refusal.Params = map[string]string{}
		}
		r.Refusal.Params[pairs[i]] = pairs[i+1]
	}
	return r
}
