package app

import (
	"fmt"
	"maps"
	"strconv"
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

	person core.PersonID // who was refused, once the badge said it
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

// personParam is the parameter of a refusal that says who. On record it is the
// person's id, so that blanking the one row with the name blanks it everywhere;
// people read the name.
const personParam = "person"

// named is a refusal as people read it.
func named(b *core.Book, r core.Refusal) core.Refusal {
	return withPerson(r, PersonName(b, core.PersonID(r.Params[personParam])))
}

// unnamed is a refusal about a person as it is recorded.
func unnamed(r core.Refusal, p core.PersonID) core.Refusal { return withPerson(r, string(p)) }

func withPerson(r core.Refusal, as string) core.Refusal {
	if _, says := r.Params[personParam]; says {
		r.Params = maps.Clone(r.Params)
		r.Params[personParam] = as
	}
	return r
}

// after says how long to wait, in whole seconds.
func (r *Refused) after(d time.Duration) *Refused {
	r.After = (d + time.Second - 1).Truncate(time.Second)
	return r
}

// spoken is a span as people say it, rounded up: "40 seconds", "3 minutes".
func spoken(d time.Duration) string {
	n, unit := int((d+time.Second-1)/time.Second), "second"
	if d >= time.Minute {
		n, unit = int((d+time.Minute-1)/time.Minute), "minute"
	}
	if d >= time.Hour {
		n, unit = int((d+time.Hour-1)/time.Hour), "hour"
	}
	if n != 1 {
		unit += "s"
	}
	return strconv.Itoa(n) + " " + unit
}
