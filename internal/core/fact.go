package core

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// Value is what is known of a fact: no, yes or unsure. A rule's needs want yes,
// its forbids want no, so unsure satisfies neither.
type Value int8

const (
	No Value = iota
	Yes
	Unsure
)

func (v Value) String() string { return [...]string{"no", "yes", "unsure"}[v] }

// MarshalText writes no, yes or unsure.
func (v Value) MarshalText() ([]byte, error) { return []byte(v.String()), nil }

// UnmarshalText reads no, yes or unsure.
func (v *Value) UnmarshalText(b []byte) error {
	i := slices.Index([]string{"no", "yes", "unsure"}, string(b))
	if i < 0 {
		return fmt.Errorf("a fact is no, yes or unsure, not %q", b)
	}
	*v = Value(i)
	return nil
}

// Fact names something that is so of a lot, of one of its faces or of a named
// place on it: edges-rounded, coated[outside], masked[thread M6].
type Fact struct {
	Name string
	Of   string
}

func (f Fact) String() string {
	if f.Of == "" {
		return f.Name
	}
	return f.Name + "[" + f.Of + "]"
}

// MarshalText lets a Fact be the key of a JSON object.
func (f Fact) MarshalText() ([]byte, error) { return []byte(f.String()), nil }

// UnmarshalText reads what MarshalText writes.
func (f *Fact) UnmarshalText(b []byte) error {
	name, of, ok := strings.Cut(string(b), "[")
	if ok && !strings.HasSuffix(of, "]") {
		return fmt.Errorf("fact %q opens a bracket it does not close", b)
	}
	*f = Fact{name, strings.TrimSuffix(of, "]")}
	return nil
}

// The facts the default stage table speaks of.
const (
	MaterialIdentified = "material-identified"
	GoodsAccepted      = "goods-accepted"
	IsCut              = "cut"
	Separated          = "separated"
	Counted            = "counted"
	EdgesRounded       = "edges-rounded"
	Folded             = "folded"
	Assembled          = "assembled"
	Welded             = "welded"
	WeldDressed        = "weld-dressed"
	WeldAccepted       = "weld-accepted"
	HardwareFitted     = "hardware-fitted"
	Masked             = "masked"
	Pretreated         = "pretreated"
	Coated             = "coated"
	Cured              = "cured"
	CoatAccepted       = "coat-accepted"
	FinalAccepted      = "final-accepted"
	KitComplete        = "kit-complete"
	SampleRefused      = "refused" // by an inspection, whole; sorted, or inspected anew, it is no longer
	IsPacked           = "packed"
	IsShipped          = "shipped"
	IsReceived         = "received"
	IsUnpacked         = "unpacked"
	IsFitted           = "fitted"
	IsAtClient         = "accepted" // by the customer, at the site
	IsReturned         = "returned" // from the site
)

// Standing is what a lot remembers of one fact.
type Standing struct {
	Value  Value     `json:"value"`
	By     EventID   `json:"by"`               // the event that gave it
	Relied []Fact    `json:"relied,omitempty"` // facts the giving step needed
	Lapses time.Time `json:"lapses,omitzero"`  // zero: never
	Note   string    `json:"note,omitempty"`   // colour and batch of a coat, for instance
}

// Facts are the standings of one lot. A fact not in the map is no.
type Facts map[Fact]Standing

// At is the fact's value at an instant: a lapsed fact is no.
func (fs Facts) At(f Fact, t time.Time) Value {
	s, ok := fs[f]
	if !ok || s.Value == No {
		return No
	}
	if !s.Lapses.IsZero() && t.After(s.Lapses) {
		return No
	}
	return s.Value
}

// Lapsed reports whether the fact was so and its time has run out since.
func (fs Facts) Lapsed(f Fact, t time.Time) bool {
	s := fs[f]
	return s.Value == Yes && !s.Lapses.IsZero() && t.After(s.Lapses)
}

// Any is the strongest value among every face or place of the named fact: yes
// if one is yes, else unsure if one is unsure.
func (fs Facts) Any(name string, t time.Time) Value {
	out := No
	for f := range fs {
		if f.Name != name {
			continue
		}
		switch fs.At(f, t) {
		case Yes:
			return Yes
		case Unsure:
			out = Unsure
		}
	}
	return out
}

// Of lists, in order, the faces or places for which the named fact is not no.
func (fs Facts) Of(name string, t time.Time) []string {
	var out []string
	for f := range fs {
		if f.Name == name && fs.At(f, t) != No {
			out = append(out, f.Of)
		}
	}
	slices.Sort(out)
	return out
}

// List is the facts on record, in order.
func (fs Facts) List() []Fact {
	out := make([]Fact, 0, len(fs))
	for f := range fs {
		out = append(out, f)
	}
	slices.SortFunc(out, func(a, b Fact) int { return strings.Compare(a.String(), b.String()) })
	return out
}

// Relying lists every fact that relied, itself or through another, on the one
// given. Taking that back makes these unsure; ordinary later work does not, for
// it says itself what it undoes.
func (fs Facts) Relying(on Fact) []Fact {
	var out []Fact
	seen := map[Fact]bool{on: true}
	for grew := true; grew; {
		grew = false
		for f, s := range fs {
			if seen[f] || !slices.ContainsFunc(s.Relied, func(r Fact) bool { return seen[r] }) {
				continue
			}
			seen[f], grew = true, true
			out = append(out, f)
		}
	}
	slices.SortFunc(out, func(a, b Fact) int { return strings.Compare(a.String(), b.String()) })
	return out
}
