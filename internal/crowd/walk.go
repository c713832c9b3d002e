package crowd

import (
	"cmp"
	"maps"
	"slices"
	"strconv"
	"time"

	"tagalong/internal/core"
)

// Floor is a shop as somebody on a walk sees it and acts on it.
type Floor interface {
	// State is the shop as it is now, or was a moment ago; it is not to be changed.
	State() *core.State
	Now() time.Time
	// Latest names some of the latest events.
	Latest() []core.EventID
	// Send sends a command, counted under a name, and says what it came to.
	Send(name string, c core.Command, signers ...core.PersonID) core.Outcome
}

// Chance draws.
type Chance interface {
	// UpTo draws a number from 0 to n.
	UpTo(n int, label string) int
	// Nothing ends an act that finds nothing to be about. It does not return.
	Nothing(what string)
}

// Walk is somebody who goes about the shop and does this and that: mostly what
// is sensible, now and then what is not, and nothing that could not be tried.
type Walk struct {
	Book *core.Book
	Floor
	Chance
	Tag string // begins the names of what this walk enlists; of several at once each has its own

	named int
	loans []loan
}

// Act is one thing to do, and how often it is done beside the others.
type Act struct {
	Name  string
	Often int
	Do    func()
}

// Acts are all there is to do.
func (w *Walk) Acts() []Act {
	return []Act{
		{"step", 4, w.step}, {"finish", 4, w.finish}, {"begin", 1, w.begin}, {"separate", 3, w.cutSheet}, {"nest", 1, w.nestMore},
		{"goods", 1, w.goodsIn}, {"order", 1, w.order}, {"divide", 2, w.divide}, {"together", 1, w.together}, {"fuse", 2, w.fuse}, {"store", 1, w.store},
		{"recount", 2, w.recount}, {"lend", 2, w.lend}, {"pay back", 1, w.payBack}, {"problem", 1, w.problem}, {"dispose", 2, w.disposition}, {"gather", 4, w.gather},
		{"put back", 1, w.putBack}, {"make", 3, w.make}, {"purpose", 1, w.purpose}, {"late", 3, w.late}, {"apart", 1, w.apart}, {"report at site", 1, w.problemAtSite},
		{"load", 2, w.load}, {"weigh", 1, w.weigh}, {"ship", 1, w.ship}, {"arrive", 2, w.arrive}, {"turn up", 2, w.turnUp}, {"site", 2, w.site}, {"correct", 2, w.correct},
		{"hold", 1, w.hold}, {"lift", 2, w.lift}, {"settle", 1, w.settle},
		{"print", 2, w.print}, {"hand over", 1, w.handOver}, {"take back", 2, w.takeBack}, {"report snag", 1, w.reportSnag}, {"deal with snag", 1, w.dealWithSnag},
	}
}

// send sends a command, with yes to what is only asked to make sure; now and then
// mangled.
func (w *Walk) send(name string, c core.Command, signers ...core.PersonID) core.Outcome {
	if w.UpTo(11, "mangled") == 11 {
		c.Body = w.mangled(c.Body)
		name = "mangled"
	}
	c.Confirm = append(c.Confirm, "count-differs", "pallet-elsewhere", "came-short")
	return w.Send(name, c, signers...)
}

func (w *Walk) at(name string, body core.Body, station core.StationID, signers ...core.PersonID) *core.Refusal {
	return w.send(name, core.Command{Body: body, Station: station}, signers...).Refusal
}

// one draws one of a list; where there is nothing to draw from the act is over.
func one[T any](w *Walk, list []T, label string) T {
	if len(list) == 0 {
		w.Nothing("no " + label)
	}
	return list[w.UpTo(len(list)-1, label)]
}

func (w *Walk) now(label string) bool { return w.UpTo(1, label) == 1 }

// some draws from one to all of a lot, and now and then none or one too many.
func (w *Walk) some(l core.Lot) int {
	if w.UpTo(9, "off") == 9 {
		return (l.Qty + 1) * w.UpTo(1, "more than there is")
	}
	return 1 + w.UpTo(l.Qty-1, "qty")
}

// onPallets lists the lots on pallets, by name.
func (w *Walk) onPallets() []core.Lot {
	var out []core.Lot
	for _, l := range w.State().Lots {
		if l.Qty > 0 && l.Place.Kind == core.OnPallet {
			out = append(out, l)
		}
	}
	slices.SortFunc(out, func(a, b core.Lot) int { return cmp.Compare(a.ID, b.ID) })
	return out
}

// lot draws a lot on some pallet; mostly one that nothing is the matter with.
func (w *Walk) lot(like func(core.Lot) bool) core.Lot {
	all := slices.DeleteFunc(w.onPallets(), func(l core.Lot) bool { return like != nil && !like(l) })
	if w.UpTo(3, "whatever it is") < 3 {
		if sound := slices.DeleteFunc(slices.Clone(all), func(l core.Lot) bool { return !w.sound(l) }); len(sound) > 0 {
			all = sound
		}
	}
	return one(w, all, "lot")
}

// sound: no hold stops a lot and nothing about it is unsure.
func (w *Walk) sound(l core.Lot) bool {
	if _, held := core.HeldBy(w.State(), l); held {
		return false
	}
	for _, f := range l.Facts {
		if f.Value == core.Unsure {
			return false
		}
	}
	return true
}

// pallet draws a pallet with something on it; none, for a fresh one, now and then.
func (w *Walk) pallet() core.PalletCode {
	if w.now("fresh") {
		return ""
	}
	return core.PalletCode(w.lot(nil).Place.Ref)
}

// owner draws an order line, mostly one that lacks an item.
func (w *Walk) owner(item core.ItemRev) core.Owner {
	var all, lack []core.Owner
	for _, no := range keys(w.State().Orders) {
		for _, l := range w.State().Orders[no].Lines {
			all = append(all, l.Owner)
			if w.lacks(l.Owner, item) {
				lack = append(lack, l.Owner)
			}
		}
	}
	if len(lack) > 0 && w.UpTo(4, "one that has enough") < 4 {
		return one(w, lack, "owner that lacks it")
	}
	return one(w, all, "owner")
}

// lacks: an order line asks for more of an item than it has.
func (w *Walk) lacks(o core.Owner, item core.ItemRev) bool {
	return core.Asked(w.Book, w.State().Orders[o.Order], o.Line)[item] > w.has(o, item)
}

// has counts an item that an owner has, in whatever it is.
func (w *Walk) has(o core.Owner, item core.ItemRev) int {
	n := 0
	for _, l := range w.State().Lots {
		if l.Owner == o && l.Qty > 0 && l.Place.Kind != core.Inside && l.Place.Kind.Holds() {
			n += l.Qty * w.inside(l.Item, item)
		}
	}
	return n
}

// inside counts an item in one of another, itself included.
func (w *Walk) inside(whole, item core.ItemRev) int {
	if whole == item {
		return 1
	}
	n := 0
	for _, c := range w.Book.Items[whole].Bill {
		n += c.Qty * w.inside(c.Item, item)
	}
	return n
}

// name is a name nothing has had before.
func (w *Walk) name() string {
	w.named++
	return w.Tag + strconv.Itoa(w.named)
}

// keys are a map's keys in order, so that a walk can be gone again.
func keys[K cmp.Ordered, V any](m map[K]V) []K { return slices.Sorted(maps.Keys(m)) }
