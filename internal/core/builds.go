package core

import (
	"cmp"
	"maps"
	"slices"
	"strconv"
	"strings"
)

// Short is one line of a bill that a build does not yet cover.
type Short struct {
	Item    ItemRev
	Missing int
}

// BuildShort lists what a unit build still lacks of its bill; none when it is
// complete.
func BuildShort(s *State, b *Book, build Build) []Short {
	short, _ := against(b.Items[build.Item].Bill, s.LotsAt(Place{InBuild, string(build.Code)}))
	return short
}

// against holds lots against a bill: what is missing of it, and what is there
// beyond it.
func against(bill []Component, lots []Lot) (short, over []Short) {
	there := map[ItemRev]int{}
	for _, l := range lots {
		there[l.Item] += l.Qty
	}
	for _, c := range bill {
		switch n := there[c.Item] - c.Qty; {
		case n < 0:
			short = append(short, Short{c.Item, -n})
		case n > 0:
			over = append(over, Short{c.Item, n})
		}
		delete(there, c.Item)
	}
	for _, item := range sortedItems(there) {
		over = append(over, Short{item, there[item]})
	}
	return short, over
}

// gather takes components for one unit off pallets into its build.
func (d *deciding) gather(b Gather) *Refusal {
	build, r := d.buildFor(b)
	if r != nil {
		return r
	}
	if build.Lot != "" {
		return refuse("build-made", "build", string(build.Code), "lot", string(build.Lot))
	}
	first, r := d.firstStep(build.Item)
	if r != nil {
		return r
	}
	if !d.station().Does(first.Stage) {
		return refuse("wrong-station", "station", d.station().Name, "stage", d.stageTitle(first.Stage),
			"stations", d.stationsDoing(first.Stage), "pallet", string(build.Code))
	}
	picks := b.Picks
	if len(picks) == 0 {
		picks = d.fitting(build)
	}
	d.ev.Kind, d.ev.Ref = EvGathered, string(build.Code)
	d.emit(Effect{BuildPut: &build})
	left := map[PalletCode]bool{}
	for _, k := range picks {
		from, r := d.pick(build, k)
		if r != nil {
			return r
		}
		left[from] = true
	}
	if len(picks) == 0 {
		return refuse("nothing-fits", "item", d.w.Book.Items[build.Item].Name, "missing", d.shortText(BuildShort(d.s, d.w.Book, build)))
	}
	for _, code := range slices.Sorted(maps.Keys(left)) {
		d.leave(code)
	}
	return nil
}

// buildFor is the build named, or a new one for the next unit of an order line.
func (d *deciding) buildFor(b Gather) (Build, *Refusal) {
	if b.Build != "" {
		build, ok := d.s.Builds[b.Build]
		if !ok {
			return build, refuse("build-unknown", "build", string(b.Build))
		}
		return build, nil
	}
	rev, ok := d.w.Book.Items[b.Item]
	if !ok || len(rev.Bill) == 0 {
		return Build{}, refuse("no-bill", "item", b.Item.String())
	}
	asked := Asked(d.w.Book, d.s.Orders[b.Owner.Order], b.Owner.Line)[b.Item]
	have := holdings(d.s, d.w.Book, b.Owner)[b.Item.Item]
	for _, x := range d.s.Builds {
		if x.Owner == b.Owner && x.Item == b.Item && x.Lot == "" {
			have++
		}
	}
	if !b.Owner.Stock() && have >= asked {
		return Build{}, refuse("build-enough", "item", rev.Name, "owner", b.Owner.String(), "asked", strconv.Itoa(asked))
	}
	if len(d.w.Codes.Builds) == 0 {
		return Build{}, refuse("too-many-pallets", "most", "0")
	}
	return Build{Code: d.w.Codes.Builds[0], Item: b.Item, Owner: b.Owner, Unit: d.nextUnit(b.Owner, b.Item), Station: d.c.Station, Opened: d.w.Now}, nil
}

// nextUnit numbers the next build of an item for an order line. What is built for
// stock has no number: nobody counts it.
func (d *deciding) nextUnit(o Owner, item ItemRev) int {
	if o.Stock() {
		return 0
	}
	n := 1
	for _, x := range d.s.Builds {
		if x.Owner == o && x.Item == item {
			n++
		}
	}
	return n
}

// Asked explodes an order line by bills: how many of each item, at each level,
// it asks for.
func Asked(b *Book, o Order, line int) map[ItemRev]int {
	out := map[ItemRev]int{}
	for _, l := range o.Lines {
		if l.Line == line {
			explode(b, l.Item, l.Qty, out, 0)
		}
	}
	return out
}

func explode(b *Book, item ItemRev, qty int, out map[ItemRev]int, depth int) {
	if depth > 20 { // a bill that contains itself is refused at import
		return
	}
	out[item] += qty
	for _, c := range b.Items[item].Bill {
		explode(b, c.Item, c.Qty*qty, out, depth+1)
	}
}

// Deliverables is what an order for an item ships as: the item itself where it
// has a route of its own; else, for a product put together at the site, its
// components.
func Deliverables(b *Book, item ItemRev, qty int) map[ItemRev]int {
	out := map[ItemRev]int{}
	deliver(b, item, qty, out, 0)
	return out
}

func deliver(b *Book, item ItemRev, qty int, out map[ItemRev]int, depth int) {
	rev := b.Items[item]
	if rev.Route.Name != "" || len(rev.Bill) == 0 || depth > 20 {
		out[item] += qty
		return
	}
	for _, c := range rev.Bill {
		deliver(b, c.Item, c.Qty*qty, out, depth+1)
	}
}

// firstStep is where an assembly's route begins: the stage that makes it.
func (d *deciding) firstStep(item ItemRev) (Step, *Refusal) {
	if step, _, made := Making(d.w.Book, item); made {
		return step, nil
	}
	return Step{}, refuse("no-bill", "item", item.String())
}

// Making is the step, with its stage, that makes a unit of an item out of its
// components; made is false for an item that is not made so.
func Making(b *Book, item ItemRev) (step Step, stage Stage, made bool) {
	route := b.Routes[b.Items[item].Route]
	if len(route.Steps) == 0 {
		return Step{}, Stage{}, false
	}
	stage, _ = b.Table.Stage(route.Steps[0].Stage)
	if !slices.Contains(stage.Predicates, BuildComplete) {
		return Step{}, Stage{}, false
	}
	return route.Steps[0], stage, true
}

// fitting picks what a build lacks from pallets at the station: lots of its
// owner first, then stock, oldest first.
func (d *deciding) fitting(build Build) []Pick {
	var out []Pick
	for _, short := range BuildShort(d.s, d.w.Book, build) {
		want := short.Missing
		for _, owner := range []Owner{build.Owner, {}} {
			for _, l := range d.near(short.Item, owner) {
				if want == 0 || d.fit(build, l) != nil {
					continue
				}
				n := min(want, l.Qty)
				out = append(out, Pick{l.ID, n})
				want -= n
			}
			if build.Owner.Stock() {
				break
			}
		}
	}
	return out
}

// near lists lots of an item and owner on pallets taken in at the station, what
// runs out first before the rest.
func (d *deciding) near(item ItemRev, owner Owner) []Lot {
	var out []Lot
	for _, l := range d.s.Lots {
		if l.Item == item && l.Owner == owner && l.Qty > 0 && l.Place.Kind == OnPallet &&
			d.s.Pallets[PalletCode(l.Place.Ref)].Station == d.c.Station {
			out = append(out, l)
		}
	}
	slices.SortFunc(out, func(a, b Lot) int {
		return cmp.Or(compareExpiry(a.Expires, b.Expires), cmp.Compare(a.ID, b.ID))
	})
	return out
}

// compareExpiry orders by the day goods run out; what never does comes last.
func compareExpiry(a, b Date) int {
	if (a == "") != (b == "") {
		return cmp.Compare(b, a)
	}
	return cmp.Compare(a, b)
}

// fit says why a lot can't go into a build: another's, unfinished, or held.
func (d *deciding) fit(build Build, l Lot) *Refusal {
	if !l.Owner.Stock() && l.Owner != build.Owner {
		return refuse("other-owner", "owner", l.Owner.String(), "want", build.Owner.String())
	}
	if l.For != "" && l.For != build.Code {
		return refuse("kept-for-unit", "build", string(l.For))
	}
	if next := OwnSteps(d.w.Book, l); len(next) > 0 {
		return refuse("component-not-done", "stage", d.stageTitle(next[0].Stage))
	}
	if h, held := d.heldBy(l); held {
		return refuse("lot-held", "reason", h.Reason, "hold", string(h.ID))
	}
	return d.inDate(l)
}

// OwnSteps are what a component has yet to go through before it goes into a
// unit. Bought goods are packed only where they travel by themselves.
func OwnSteps(b *Book, l Lot) []Step {
	next := NextSteps(b, l)
	if len(next) > 0 && next[0].Stage == "pack" && b.Items[l.Item].Kind == BoughtItem {
		return nil
	}
	return next
}

// pick moves so many of a lot into the build.
func (d *deciding) pick(build Build, k Pick) (PalletCode, *Refusal) {
	l, r := d.atHand(k)
	if r != nil {
		return "", r
	}
	from := PalletCode(l.Place.Ref)
	if r := d.stop(d.fit(build, l)); r != nil {
		return "", d.about(r, l, k.Qty)
	}
	lacks := 0
	for _, s := range BuildShort(d.s, d.w.Book, build) {
		if s.Item == l.Item {
			lacks = s.Missing
		}
	}
	if k.Qty > lacks {
		return "", d.about(refuse("more-than-bill", "asked", strconv.Itoa(k.Qty), "lacks", strconv.Itoa(lacks)), l, l.Qty)
	}
	if l.Owner != build.Owner {
		l = d.reown(l, k.Qty, build.Owner)
	}
	d.counted(l, k.Qty, 0, 0)
	d.split(l, k.Qty, Place{InBuild, string(build.Code)})
	return from, nil
}

// atHand is a lot on a pallet taken in at the station, with enough parts.
func (d *deciding) atHand(k Pick) (Lot, *Refusal) {
	l, ok := d.s.Lots[k.Lot]
	if !ok || l.Place.Kind != OnPallet {
		return l, refuse("lot-not-here", "lot", string(k.Lot), "pallet", "").of(k.Lot)
	}
	if from := PalletCode(l.Place.Ref); d.s.Pallets[from].Station != d.c.Station {
		return l, refuse("not-taken-in", "pallet", string(from), "station", d.station().Name)
	}
	if k.Qty < 1 || k.Qty > l.Qty {
		return l, d.about(refuse("more-than-there", "asked", strconv.Itoa(k.Qty)), l, l.Qty)
	}
	return l, nil
}

// putBack returns gathered parts to a pallet.
func (d *deciding) putBack(b PutBack) *Refusal {
	build, ok := d.s.Builds[b.Build]
	if !ok {
		return refuse("build-unknown", "build", string(b.Build))
	}
	to, r := d.palletOrFresh(b.To, PalletCarrier)
	if r != nil {
		return r
	}
	if len(b.Picks) == 0 {
		return refuse("no-lots", "stage", "", "pallet", string(b.Build))
	}
	d.ev.Kind, d.ev.Ref = EvReturned, string(build.Code)
	for _, k := range b.Picks {
		l, ok := d.s.Lots[k.Lot]
		if !ok || l.Place != (Place{InBuild, string(b.Build)}) {
			return refuse("lot-not-here", "lot", string(k.Lot), "pallet", string(b.Build)).of(k.Lot)
		}
		if k.Qty < 1 || k.Qty > l.Qty {
			return d.about(refuse("more-than-there", "asked", strconv.Itoa(k.Qty)), l, l.Qty)
		}
		d.counted(l, k.Qty, 0, 0)
		d.split(l, k.Qty, On(to))
	}
	d.put(d.s.Pallets[to])
	return nil
}

// assemble signs the step that makes a unit of its components. Each must be
// there, at the end of its own route, unheld and, for a weld, rounded where its
// drawing asks; from then on only the new lot's own facts count.
func (d *deciding) assemble(b Assemble) *Refusal {
	build, ok := d.s.Builds[b.Build]
	if !ok {
		return refuse("build-unknown", "build", string(b.Build))
	}
	rev := d.w.Book.Items[build.Item]
	if build.Lot != "" {
		return refuse("build-made", "build", string(build.Code), "lot", string(build.Lot))
	}
	step, r := d.firstStep(build.Item)
	if r != nil {
		return r
	}
	stage, _ := d.w.Book.Table.Stage(step.Stage)
	if !d.station().Does(stage.Name) {
		return refuse("wrong-station", "station", d.station().Name, "stage", stage.Title,
			"stations", d.stationsDoing(stage.Name), "pallet", string(build.Code))
	}
	if short := BuildShort(d.s, d.w.Book, build); len(short) > 0 {
		return refuse("build-short", "item", rev.Name, "missing", d.shortText(short), "build", string(build.Code)).absolute()
	}
	parts := d.s.LotsAt(Place{InBuild, string(build.Code)})
	for _, l := range parts {
		if r := d.component(build, stage, l); r != nil {
			return d.about(r, l, l.Qty)
		}
	}
	to, r := d.palletOrFresh(b.To, PalletCarrier)
	if r != nil {
		return r
	}
	if r := d.readInputs(stage, b.Inputs); r != nil {
		return r
	}
	unit := Lot{ID: d.newLot(), Item: build.Item, Owner: build.Owner, Place: On(to), Route: rev.Route,
		Promised: d.promised(build.Owner), Unit: build.Code, Arrived: d.w.Now}
	for _, l := range parts {
		unit.Parents = union(union(unit.Parents, l.Parents...), l.ID)
		unit.Gauges = laterOf(unit.Gauges, l.Gauges)
		unit.Expires = earlier(unit.Expires, l.Expires)
		unit.Heats, unit.Sheets, unit.Batches = union(unit.Heats, l.Heats...), union(unit.Sheets, l.Sheets...), union(unit.Batches, l.Batches...)
	}
	d.record(EvAssembled, stage, step)
	d.ev.Ref, d.ev.Note = string(build.Code), b.Note
	d.bear(unit)
	d.emit(Effect{Moved: &Move{unit.ID, unit.Item, Place{Made, string(build.Code)}, On(to), 1}})
	d.inherit(unit.ID, parts)
	for _, l := range parts {
		d.moveLot(l, l.Place, Place{Inside, string(unit.ID)}, l.Qty)
	}
	unit = d.s.Lots[unit.ID]
	r = d.mayDo(unit, step, stage)
	if r == nil {
		r = d.readings(unit, step, b.Checks)
	}
	if r != nil {
		r = d.about(r, unit, 1)
		r.Lots = nil // the unit's lot is not made
		return r
	}
	d.perform(d.s.Lots[unit.ID], step, stage, b.Checks)
	d.counted(unit, 1, 0, 0)
	build.Lot = unit.ID
	d.emit(Effect{BuildPut: &build})
	d.put(d.s.Pallets[to])
	return nil
}

// component judges one component at the moment it is joined.
func (d *deciding) component(build Build, stage Stage, l Lot) *Refusal {
	if r := d.fit(build, l); r != nil {
		return r
	}
	if stage.Name != "weld" {
		return nil
	}
	if l.Facts.Any(Coated, d.at) != No {
		return refuse("already-coated", "face", "").absolute()
	}
	if d.asksRounding(l) && l.Facts.At(Fact{Name: EdgesRounded}, d.at) != Yes {
		return d.stop(refuse("edges-not-rounded", "face", ""))
	}
	return nil
}

// asksRounding: a made component has edges to be rounded unless its drawing
// leaves them as cut.
func (d *deciding) asksRounding(l Lot) bool {
	rev := d.w.Book.Items[l.Item]
	return (rev.Kind == PartItem || rev.Kind == AssemblyItem) && !rev.EdgesAsCut
}

// inherited are the facts a unit has of its components.
var inherited = []string{MaterialIdentified, IsCut, Separated, EdgesRounded}

// asksOf reports whether a unit's fact leans on a component: on made ones, and
// for rounded edges on those that are to be rounded.
func (d *deciding) asksOf(name string, l Lot) bool {
	if name == EdgesRounded {
		return d.asksRounding(l)
	}
	kind := d.w.Book.Items[l.Item].Kind
	return kind == PartItem || kind == AssemblyItem
}

// inherit gives a new unit the facts its components share: yes only where every
// made component that asks has it.
func (d *deciding) inherit(unit LotID, parts []Lot) {
	for _, name := range inherited {
		v, any := Yes, false
		for _, l := range parts {
			if !d.asksOf(name, l) {
				continue
			}
			any = true
			switch l.Facts.At(Fact{Name: name}, d.at) {
			case No:
				v = No
			case Unsure:
				if v == Yes {
					v = Unsure
				}
			}
		}
		if any && v != No {
			d.emit(Effect{Given: &FactGiven{Lot: unit, Fact: Fact{Name: name}, Value: v}})
		}
	}
}

// shortText lists what is missing: "2 wall panels, 1 hinge plate".
func (d *deciding) shortText(short []Short) string {
	var out []string
	for _, s := range short {
		out = append(out, strconv.Itoa(s.Missing)+" × "+d.w.Book.Items[s.Item].Name)
	}
	return strings.Join(out, ", ")
}
