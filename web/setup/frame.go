package setup

import (
	"strconv"
	"strings"

	"github.com/a-h/templ"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/ui"
)

// option is one choice of a list.
type option struct{ value, text string }

// wrongly marks a field that something is wrong with, and names what.
func wrongly(name, slip string) templ.Attributes {
	if slip == "" {
		return nil
	}
	return templ.Attributes{"aria-invalid": "true", "aria-describedby": "slip-" + name}
}

func metalOptions() []option {
	out := make([]option, len(metals))
	for i, m := range metals {
		out[i] = option{string(m), string(m)}
	}
	return out
}

// itemOptions lists items under their keys, after an empty line.
func itemOptions(first string, items []core.Revision) []option {
	out := []option{{"", first}}
	for _, v := range items {
		out = append(out, option{app.ItemKey(v.ItemRev), itemText(v)})
	}
	return out
}

func itemText(v core.Revision) string {
	out := v.String() + ", " + v.Name
	if v.Kind == core.PartItem && v.Thickness > 0 {
		out += ", " + v.Grade + " " + ui.Number(v.Thickness) + " mm"
	}
	return out
}

func stationOptions(all []core.Station) []option {
	out := make([]option, len(all))
	for i, st := range all {
		out[i] = option{string(st.ID), st.Name}
	}
	return out
}

// Attributes of fields, so that the templates stay readable.
func must(more ...templ.Attributes) templ.Attributes {
	out := templ.Attributes{"required": true}
	for _, m := range more {
		for k, v := range m {
			out[k] = v
		}
	}
	return out
}

var number = templ.Attributes{"inputmode": "decimal", "class": "short"}

// keyed is a field for a number of the shop's own, in capitals.
var keyed = templ.Attributes{"autocapitalize": "characters", "class": "code"}

func lineAttrs(at string, n int, slip string) templ.Attributes {
	out := templ.Attributes{"aria-label": "Item on line " + strconv.Itoa(n)}
	for k, v := range wrongly("item."+at, slip) {
		out[k] = v
	}
	return out
}

// listed gives a field for a kind of gauge those of the shop to choose from.
func listed(name string) templ.Attributes {
	if strings.HasPrefix(name, "gauge.") {
		return templ.Attributes{"list": "gauge-kinds"}
	}
	return nil
}
