package app

import (
	"slices"
	"strings"

	"tagalong/internal/core"
)

// TypedFinish is the coat a drawing asks, as it was typed.
type TypedFinish struct {
	Asked    bool   // something is coated
	EachFace bool   // each face has its own
	Colour   string // of every face
	Outside  string // where each has its own; empty: it stays bare
	Inside   string
	Cover    bool     // the first colour, though cured, is covered from the second
	Places   []string // to be masked from every coat: threads, earth points
}

const (
	outside = core.Face("outside")
	inside  = core.Face("inside")
)

// faces are the finish as an item's revision has it. The same colour on both
// faces is one coat.
func (f TypedFinish) faces() []core.Finish {
	out, in := strings.TrimSpace(f.Outside), strings.TrimSpace(f.Inside)
	switch {
	case !f.Asked:
		return nil
	case !f.EachFace:
		return []core.Finish{{Face: "all", Colour: f.Colour}}
	case out == in:
		return []core.Finish{{Face: "all", Colour: out}}
	}
	both := out != "" && in != ""
	return []core.Finish{{Face: outside, Colour: orBare(out), Protect: both && f.Cover}, {Face: inside, Colour: orBare(in)}}
}

func orBare(colour string) string {
	if colour == "" {
		return core.Bare
	}
	return colour
}

func (f TypedFinish) wrong() Slips {
	if f.Asked && f.EachFace && strings.TrimSpace(f.Outside+f.Inside) == "" {
		return Slips{typedSlip("finishes.csv", 0, "face", "two faces and no colour", "the colour of at least one of them, or a bare item")}
	}
	if !f.Asked && len(f.Places) > 0 {
		return Slips{typedSlip("routes.csv", 0, "place", "places to mask on an item that stays bare", "a coat to keep off them, or no places")}
	}
	for i, p := range f.Places {
		if slices.Contains(f.Places[:i], p) || p == string(outside) || p == string(inside) {
			return Slips{typedSlip("routes.csv", i, "place", "the place "+p+" a second time, or as a face", "each place once, by a name of its own")}
		}
	}
	return nil
}

// coated are the faces with a colour of their own, in the order of spraying;
// none where every face has the same.
func (f TypedFinish) coated() []core.Face {
	var out []core.Face
	for _, x := range f.faces() {
		if x.Face != "all" && x.Colour != core.Bare {
			out = append(out, x.Face)
		}
	}
	return out
}

// word tells routes that coat different faces apart.
func (f TypedFinish) word() []string {
	var out []string
	for _, face := range f.coated() {
		out = append(out, map[core.Face]string{outside: "OUT", inside: "IN"}[face])
	}
	if len(out) == 2 && f.Cover {
		out = append(out, "COVERED")
	}
	return out
}

func (f TypedFinish) masking() []core.Step {
	var out []core.Step
	for _, p := range f.Places {
		out = append(out, core.Step{Stage: "mask", Place: p, Look: "Plugs, caps or film on it: count them"})
	}
	return out
}

func (f TypedFinish) unmasking() []core.Step {
	var out []core.Step
	for _, p := range f.Places {
		out = append(out, core.Step{Stage: "unmask", Place: p, Look: "Cool first; count back what comes off"})
	}
	return out
}

// coats are the coats of a finish, the cure after each. Of two colours the
// second is sprayed after the first is cured, keyed and clean again.
func (f TypedFinish) coats(coat core.Step, cure []core.Step) []core.Step {
	faces := f.coated()
	if len(faces) == 0 {
		return append([]core.Step{coat}, cure...)
	}
	foil := func(stage core.StageName, face core.Face, look string) core.Step {
		return core.Step{Stage: stage, Face: face, Place: string(face), Look: look}
	}
	var out []core.Step
	for i, face := range faces {
		other := outside
		if face == outside {
			other = inside
		}
		if i > 0 {
			out = append(out, core.Step{Stage: "key-and-clean", Look: "Matt where the colours meet; wiped, and no bare hands after", ValidHours: 8})
		}
		covers := i == 0 || f.Cover
		if covers {
			out = append(out, foil("mask", other, "Film pressed down to the parting line"))
		}
		coat.Face = face
		out = append(append(out, coat), cure...)
		if covers {
			out = append(out, foil("unmask", other, "Cool first; draw the film off slowly"))
		}
	}
	return out
}
