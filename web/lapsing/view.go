package lapsing

import (
	"maps"
	"slices"

	"github.com/a-h/templ"

	"tagalong/internal/core"
)

// wrongly marks a field that something is wrong with, and names what.
func wrongly(name, slip string) templ.Attributes {
	if slip == "" {
		return nil
	}
	// The first of them has the focus: the form is below the list.
	return templ.Attributes{"aria-invalid": "true", "aria-describedby": "slip-" + name, "autofocus": true}
}

// must is a field that has to be filled, of a size, with a list to choose from.
func must(class, list string) templ.Attributes {
	out := templ.Attributes{"required": true}
	if class != "" {
		out["class"] = class
	}
	if list != "" {
		out["list"] = list
	}
	return out
}

func date(must bool) templ.Attributes {
	return templ.Attributes{"type": "date", "required": must, "class": "middle"}
}

func sortedKeys(m map[string]string) []string { return slices.Sorted(maps.Keys(m)) }

// typedFor is what was typed for a row; nothing for the others.
func typedFor(f frame, row, typed string) string {
	if f.row == row {
		return typed
	}
	return ""
}

func dueBy(g core.Instrument) core.Date { return g.DueBy }
func expires(b core.Batch) core.Date    { return b.Expires }
