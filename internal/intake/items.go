package intake

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"tagalong/internal/core"
)

var itemKinds = []string{string(core.PartItem), string(core.AssemblyItem), string(core.ProductItem), string(core.KitItem),
	string(core.BoughtItem), string(core.SheetItem), string(core.BarItem)}

func isMaterial(k core.ItemKind) bool { return k == core.SheetItem || k == core.BarItem }

// kindWord is a kind as a sentence names it.
func kindWord(k core.ItemKind) string {
	if k == core.BoughtItem {
		return "bought item"
	}
	return string(k)
}

// hasBill says which kinds are made of components.
func hasBill(k core.ItemKind) bool {
	return k == core.AssemblyItem || k == core.ProductItem || k == core.KitItem
}

const maxLength = 100_000 // mm

func (r *reader) items() {
	r.itemAt, r.itemRow = map[core.ItemRev]int{}, map[core.ItemRev]row{}
	seen := once{}
	for _, x := range r.rows("items.csv") {
		v := core.Revision{
			ItemRev:    x.itemRev("item", "rev"),
			Kind:       core.ItemKind(x.word("kind", itemKinds...)),
			Name:       x.text("name"),
			Grade:      x.key("grade"),
			Metal:      core.Metal(x.word("metal", metals...)),
			Thickness:  x.decimal("thickness_mm", 0, 1000),
			Length:     x.decimal("length_mm", 0, maxLength),
			Width:      x.decimal("width_mm", 0, maxLength),
			NetArea:    x.decimal("net_area_m2", 0, 10_000),
			MassEach:   x.decimal("mass_kg", 0, 1_000_000),
			MaxBakes:   x.whole("max_bakes", 0, 100),
			EdgesAsCut: x.yes("edges_as_cut"),
			FoldsFirst: x.yes("folds_first"),
			Hand:       x.word("hand", "left", "right"),
			Route:      core.RouteRef{Name: x.key("route"), Version: x.whole("route_version", 1, maxVersion)},
		}
		r.judgeItem(x, v)
		if v.Item == "" || v.Rev == "" || !seen.first(x, "item", "item "+v.String(), v.Key()) {
			continue
		}
		r.itemAt[v.ItemRev], r.itemRow[v.ItemRev] = len(r.out.Items), x
		r.out.Items = append(r.out.Items, v)
	}
	r.finishes()
	r.outlines()
	for i := range r.out.Items {
		v := &r.out.Items[i]
		old, _ := r.known.item(v.ItemRev)
		if r.absent("finishes.csv") {
			v.Finish = old.Finish
		}
		if r.absent("outlines.csv") {
			v.Outline = old.Outline
		}
	}
	for _, v := range r.out.Items {
		r.judgeCoat(r.itemRow[v.ItemRev], v)
	}
}

// judgeItem asks of each kind what cutting, coating and moving it need to know.
func (r *reader) judgeItem(x row, v core.Revision) {
	need := func(name, why string) {
		if !x.has(name) {
			x.fault(name, "nothing", why)
		}
	}
	switch v.Kind {
	case core.SheetItem, core.BarItem, core.PartItem:
		need("grade", "the grade of the metal, such as 5005-H32, for a "+kindWord(v.Kind))
		need("metal", "the metal of the "+kindWord(v.Kind)+", one of "+strings.Join(metals, ", "))
		if v.Kind != core.BarItem {
			need("thickness_mm", "the thickness of the "+kindWord(v.Kind)+" in mm")
		}
	}
	if v.Kind == core.AssemblyItem { // the rule that keeps discs to one metal needs it
		need("metal", "the metal of the assembly that discs and belts touch, one of "+strings.Join(metals, ", "))
	}
	switch {
	case x.has("route") != x.has("route_version"):
		x.fault("route_version", "a route without its version, or a version without its route", "both or neither")
	case !x.has("route") && v.Kind != core.ProductItem:
		need("route", "the route of the "+kindWord(v.Kind)+" (only a product, put together at the fitting site, may have none)")
	case v.Route.Name != "" && v.Route.Version != 0:
		if _, ok := r.route(v.Route); !ok && r.sound("routes.csv") {
			x.fault("route", "the unknown route "+v.Route.String(), "a route of routes.csv or of the shop")
		}
	}
	if route, ok := r.route(v.Route); ok && route.Rework {
		x.fault("route", "the rework route "+v.Route.String(), "a main route, one whose rework is no")
	}
}

func (r *reader) route(ref core.RouteRef) (core.Route, bool) {
	if i, ok := r.routeAt[ref]; ok {
		return r.out.Routes[i], true
	}
	return r.known.route(ref)
}

func (r *reader) item(ref core.ItemRev) (core.Revision, bool) {
	if i, ok := r.itemAt[ref]; ok {
		return r.out.Items[i], true
	}
	return r.known.item(ref)
}

// itemOr finds an item that a line names, and reports an unknown one.
func (r *reader) itemOr(x row, item, rev string) (core.Revision, bool) {
	ref := x.itemRev(item, rev)
	if ref.Item == "" || ref.Rev == "" {
		return core.Revision{}, false
	}
	v, ok := r.item(ref)
	if !ok && r.sound("items.csv") {
		x.fault(item, "the unknown item "+ref.String(), "an item of items.csv or of the shop, at a revision it has")
	}
	return v, ok
}

// ownItem finds an item of this folder's items.csv, which the files that
// complete an item must name.
func (r *reader) ownItem(x row) (*core.Revision, bool) {
	ref := x.itemRev("item", "rev")
	if ref.Item == "" || ref.Rev == "" {
		return nil, false
	}
	i, ok := r.itemAt[ref]
	if !ok {
		if r.sound("items.csv") {
			x.fault("item", "the unknown item "+ref.String(), "an item of items.csv in this folder")
		}
		return nil, false
	}
	return &r.out.Items[i], true
}

const everyFace = core.Face("all")

func (r *reader) finishes() {
	seen := once{}
	for _, x := range r.rows("finishes.csv") {
		f := core.Finish{Face: core.Face(x.key("face")), Colour: x.key("colour"), Protect: x.yes("protect")}
		v, ok := r.ownItem(x)
		if !ok || f.Face == "" || !seen.first(x, "face", "face "+string(f.Face)+" of item "+v.String(), v.Key()+"/"+string(f.Face)) {
			continue
		}
		if len(v.Finish) > 0 && (f.Face == everyFace || v.Finish[0].Face == everyFace) {
			x.fault("face", "the face all beside another face of item "+v.String(), "either the face all alone, or faces by name")
		}
		v.Finish = append(v.Finish, f)
	}
}

// judgeCoat holds the finish asked against the coats the route gives. An item
// without a finish may still be coated as part of an assembly.
func (r *reader) judgeCoat(x row, v core.Revision) {
	route, ok := r.route(v.Route)
	if !ok || !r.sound("finishes.csv") || !r.sound("routes.csv") {
		return
	}
	const coat = core.StageName("coat")
	coats := route.Has(coat)
	switch {
	case coats && len(v.Faces()) == 0:
		x.fault("route", "the route "+v.Route.String()+", which coats, for an item without a finish", "a finish in finishes.csv, or a route that does not coat")
		return
	case !coats && len(v.Faces()) > 0:
		x.fault("route", "the route "+v.Route.String()+", which does not coat, for an item with a finish", "a route with a coat step, or no finish")
		return
	}
	done := map[core.Face]bool{}
	for _, s := range route.Steps {
		if s.Stage != coat {
			continue
		}
		done[s.Face] = true
		if s.Face == "" {
			continue
		}
		switch want := v.Colour(s.Face); {
		case want == "":
			x.fault("route", fmt.Sprintf("the route %s, whose step %d coats the face %s", v.Route, s.No, s.Face), "that face in finishes.csv for item "+v.String())
		case s.Colour != "" && s.Colour != want:
			x.fault("route", fmt.Sprintf("the route %s, whose step %d coats the face %s %s", v.Route, s.No, s.Face, s.Colour), "the colour "+want+", as finishes.csv says")
		}
	}
	for _, f := range v.Faces() {
		if coats && !done[f] && !done[""] {
			x.fault("route", fmt.Sprintf("the route %s, which never coats the face %s", v.Route, f), "a coat step for that face")
		}
	}
}

var pointPair = regexp.MustCompile(`^-?[0-9]{1,6}(\.[0-9]{1,20})? -?[0-9]{1,6}(\.[0-9]{1,20})?$`)

// outlines reads rings; the lines of one ring continue it, so that a long ring
// fits the limit of a field.
func (r *reader) outlines() {
	const want = `points as "x y" in mm, parted by semicolons, such as 0 0;600 0;600 400`
	last := map[core.ItemRev]row{}
	for _, x := range r.rows("outlines.csv") {
		ring := x.whole("ring", 1, 10_000)
		s, _ := x.filled("points_mm", want)
		v, ok := r.ownItem(x)
		if !ok || ring == 0 || s == "" {
			continue
		}
		if n := len(v.Outline); ring != n && ring != n+1 {
			x.fault("ring", "ring "+strconv.Itoa(ring)+" of item "+v.String(), fmt.Sprintf("ring %d next: rings are numbered from 1, in order", n+1))
			continue
		} else if ring == n+1 {
			r.judgeRing(last[v.ItemRev], v)
			v.Outline = append(v.Outline, nil)
		}
		last[v.ItemRev] = x
		for _, p := range strings.Split(s, ";") {
			if !pointPair.MatchString(p) {
				x.fault("points_mm", quoted(p), want)
				break
			}
			a, b, _ := strings.Cut(p, " ")
			px, _ := strconv.ParseFloat(a, 64) // the pattern admits numbers only
			py, _ := strconv.ParseFloat(b, 64)
			v.Outline[ring-1] = append(v.Outline[ring-1], px, py)
		}
	}
	for ref, x := range last {
		r.judgeRing(x, &r.out.Items[r.itemAt[ref]])
	}
}

// judgeRing reports an item's last ring when it encloses nothing.
func (r *reader) judgeRing(x row, v *core.Revision) {
	if n := len(v.Outline); n > 0 && len(v.Outline[n-1]) < 6 {
		x.fault("points_mm", count(len(v.Outline[n-1])/2, "point"), "at least 3 points in a ring")
	}
}
