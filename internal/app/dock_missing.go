package app

import (
	"strconv"

	"tagalong/internal/core"
)

// Missing is what an order lacks at the dock: so many of an item that are not
// packed, and where they are.
type Missing struct {
	Item  core.ItemRev
	Name  string
	Count int
	Kit   bool     // a bag to be gathered here
	Where []Whence // of the count, or of the components a unit lacks
}

// Whence is where some of what is missing are, and what they wait for.
type Whence struct {
	Count  int
	Name   string // of a component; empty: of the item itself
	Pallet core.PalletCode
	Place  string // "at weld bench 2"
	Next   string // "weld inspection"
	Held   bool
	Why    string // of the hold
}

// MissingOf lists what an order asks that is not packed, loaded or gone.
func MissingOf(v OrderView) []Missing {
	var out []Missing
	var walk func(n Need)
	walk = func(n Need) {
		if n.Delivered {
			for _, p := range n.Parts {
				walk(p)
			}
			return
		}
		if short := n.Asked - n.Packed; short > 0 {
			out = append(out, Missing{n.Item, n.Name, short, n.Kind == core.KitItem, whence(n)})
		}
	}
	for _, n := range v.Needs {
		walk(n)
	}
	return out
}

func whence(n Need) []Whence {
	var out []Whence
	for _, s := range n.Spots {
		if s.Reach < Packed {
			out = append(out, Whence{Count: s.Qty, Pallet: s.Pallet, Place: s.Place, Next: s.Stage, Held: s.Held, Why: s.Why})
		}
	}
	add := func(count int, name, place string) {
		if count > 0 {
			out = append(out, Whence{Count: count, Name: name, Place: place})
		}
	}
	add(n.ToBreak, "", "cut, still in the sheet")
	add(n.ToCut, "", "on a nest, not cut yet")
	if n.Kind == core.KitItem {
		add(n.Missing, "", "not made up yet")
	} else {
		add(n.Missing, "", "nowhere: neither here nor on a nest")
	}
	if n.ToBuild() > 0 {
		out = append(out, unbuilt(n)...)
	}
	return out
}

// unbuilt says, of units still to be put together, which components they lack;
// where they lack none, that they wait for the bench.
func unbuilt(n Need) []Whence {
	var lacks []Whence
	var walk func(p Need)
	walk = func(p Need) {
		add := func(count int, place string) {
			if count > 0 {
				lacks = append(lacks, Whence{Count: count, Name: p.Name, Place: place})
			}
		}
		for _, s := range p.Spots {
			if s.Stage != "" || s.Held { // has work left, or may not be used
				lacks = append(lacks, Whence{s.Qty, p.Name, s.Pallet, s.Place, s.Stage, s.Held, s.Why})
			}
		}
		add(p.ToBreak, "cut, still in the sheet")
		add(p.ToCut, "on a nest, not cut yet")
		add(p.Missing, "nowhere: neither here nor on a nest")
		for _, c := range p.Parts {
			walk(c)
		}
	}
	for _, p := range n.Parts {
		walk(p)
	}
	head := Whence{Count: n.ToBuild(), Place: "to be put together; every part is ready"}
	if len(lacks) > 0 {
		head.Place = "to be put together, which waits for:"
	}
	return append([]Whence{head}, lacks...)
}

// String says where some of what is missing are, in one line.
func (w Whence) String() string {
	text := strconv.Itoa(w.Count)
	if w.Name != "" {
		text += " " + numbered(w.Count, saidName(w.Name))
	}
	text += " " + w.Place
	switch {
	case w.Held:
		text += ", held" + after(": ", w.Why)
	case w.Next != "":
		text += ", " + verb(w.Count, "waits", "wait") + " for " + w.Next
	}
	return text
}
