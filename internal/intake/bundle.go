package intake

import (
	"reflect"
	"slices"

	"tagalong/internal/core"
)

// Sheet is one sheet or bar as it came in: a material lot with its heat.
type Sheet struct {
	No          string // the shop's own number, painted or stamped on it
	Material    core.ItemRev
	Heat        string
	Slot        string // place in the pallet store
	Certificate string // number of the material certificate
}

// Bought is one delivery of bought goods.
type Bought struct {
	No          string // the shop's own delivery number
	Item        core.ItemRev
	Qty         int // > 0
	Batch       string
	Expires     core.Date
	Slot        string
	Certificate string
}

// Bundle is what a folder holds, each list in the order of its file.
type Bundle struct {
	Items       []core.Revision
	Routes      []core.Route
	Orders      []core.Order
	Nests       []core.Nest
	Sheets      []Sheet
	Bought      []Bought
	Stations    []core.Station
	People      []core.Person
	Instruments []core.Instrument
	Batches     []core.Batch
	Notes       []Note // worth knowing, stopping nothing
}

// Known is what the shop has already, so that a file may name it. A nil Book or
// map means there is nothing of that sort; without a Book no stage is known, and
// so no route can be read.
type Known struct {
	Book *core.Book
	Have
}

// Have is what a shop has of the rows named in [Asked], by their numbers.
type Have struct {
	Orders map[string]core.Order
	Nests  map[string]core.Nest
	Sheets map[string]Sheet
	Bought map[string]Bought
}

// Asked lists the numbers that files name of what a shop may have already, each
// once and sorted: what has to be looked up before they can be read.
type Asked struct {
	Orders, Nests, Sheets, Bought []string
}

func (k Known) stages() []core.StageName {
	if k.Book == nil {
		return nil
	}
	return k.Book.Table.Order
}

func (k Known) stage(n core.StageName) bool {
	if k.Book == nil {
		return false
	}
	_, ok := k.Book.Table.Stage(n)
	return ok
}

func (k Known) item(r core.ItemRev) (core.Revision, bool) {
	if k.Book == nil {
		return core.Revision{}, false
	}
	v, ok := k.Book.Items[r]
	return v, ok
}

func (k Known) route(r core.RouteRef) (core.Route, bool) {
	if k.Book == nil {
		return core.Route{}, false
	}
	v, ok := k.Book.Routes[r]
	return v, ok
}

// Asks lists what the bundle brings of what is not in the book.
func (b Bundle) Asks() Asked {
	return Asked{
		Orders: keysOf(b.Orders, func(x core.Order) string { return x.No }),
		Nests:  keysOf(b.Nests, func(x core.Nest) string { return x.ID }),
		Sheets: keysOf(b.Sheets, func(x Sheet) string { return x.No }),
		Bought: keysOf(b.Bought, func(x Bought) string { return x.No }),
	}
}

func keysOf[T any](all []T, key func(T) string) []string {
	var out []string
	for _, x := range all {
		out = append(out, key(x))
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// News is the bundle without what the shop has already in just this form, so
// that the same folder read twice adds nothing. A sheet or delivery that came in
// once is not news again, wherever it lies by now.
func (b Bundle) News(k Known) Bundle {
	var book core.Book
	if k.Book != nil {
		book = *k.Book
	}
	return Bundle{
		Items:  fresh(b.Items, func(x core.Revision) (core.Revision, bool) { return k.item(x.ItemRev) }),
		Routes: fresh(b.Routes, func(x core.Route) (core.Route, bool) { return k.route(x.RouteRef) }),
		Orders: fresh(b.Orders, func(x core.Order) (core.Order, bool) { v, ok := k.Orders[x.No]; return v, ok }),
		Nests: fresh(b.Nests, func(x core.Nest) (core.Nest, bool) {
			old, ok := k.Nests[x.ID]
			return AsPlanned(old), ok
		}),
		Sheets:      fresh(b.Sheets, func(x Sheet) (Sheet, bool) { _, ok := k.Sheets[x.No]; return x, ok }),
		Bought:      fresh(b.Bought, func(x Bought) (Bought, bool) { _, ok := k.Bought[x.No]; return x, ok }),
		Stations:    fresh(b.Stations, func(x core.Station) (core.Station, bool) { v, ok := book.Stations[x.ID]; return v, ok }),
		People:      fresh(b.People, func(x core.Person) (core.Person, bool) { v, ok := book.People[x.ID]; return v, ok }),
		Instruments: fresh(b.Instruments, func(x core.Instrument) (core.Instrument, bool) { v, ok := book.Instruments[x.ID]; return v, ok }),
		Batches:     fresh(b.Batches, func(x core.Batch) (core.Batch, bool) { v, ok := book.Batches[x.Batch]; return v, ok }),
		Notes:       b.Notes,
	}
}

func fresh[T any](all []T, known func(T) (T, bool)) []T {
	var out []T
	for _, x := range all {
		if old, ok := known(x); !ok || !same(old, x) {
			out = append(out, x)
		}
	}
	return out
}

// AsPlanned is a nest without what became of it on the shop floor.
func AsPlanned(n core.Nest) core.Nest {
	n.Sheet, n.Separated = "", false
	return n
}

// same compares two values of one type, an empty list being equal to none.
func same[T any](a, b T) bool {
	return sameValue(reflect.ValueOf(a), reflect.ValueOf(b))
}

func sameValue(a, b reflect.Value) bool {
	switch a.Kind() {
	case reflect.Struct:
		for i := range a.NumField() {
			if !sameValue(a.Field(i), b.Field(i)) {
				return false
			}
		}
		return true
	case reflect.Slice:
		if a.Len() != b.Len() {
			return false
		}
		for i := range a.Len() {
			if !sameValue(a.Index(i), b.Index(i)) {
				return false
			}
		}
		return true
	case reflect.Pointer:
		if a.IsNil() || b.IsNil() {
			return a.IsNil() && b.IsNil()
		}
		return sameValue(a.Elem(), b.Elem())
	}
	return a.Equal(b)
}
