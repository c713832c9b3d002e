package intake

import (
	"slices"
	"strings"

	"tagalong/internal/core"
)

// positions are the welding positions of ISO 6947: flat, horizontal vertical,
// horizontal, horizontal overhead, overhead, vertical up and down, and those of
// fixed pipes. From memory: the standard was not at hand.
var positions = []string{"PA", "PB", "PC", "PD", "PE", "PF", "PG", "PH", "PJ", "PK", "H-L045", "J-L045"}

var wantPositions = "positions of ISO 6947 parted by single spaces, out of " + strings.Join(positions, ", ")

var metals = []string{string(core.Aluminium), string(core.Stainless), string(core.Steel)}

func (r *reader) stations() {
	seen := once{}
	for _, x := range r.rows("stations.csv") {
		s := core.Station{
			ID:       core.StationID(x.key("station")),
			Name:     x.text("name"),
			Stages:   r.stageList(x),
			Abrasive: x.key("abrasive"),
			Metal:    core.Metal(x.word("metal", metals...)),
			Capacity: x.whole("capacity", 0, 10_000),
			Bench:    x.yes("bench"),
			Dock:     x.yes("dock"),
			Site:     x.yes("site"),
			Order:    x.whole("position", 0, 100_000),
			Km:       x.whole("distance_km", 0, 20_000),
			Abroad:   x.yes("abroad"),
		}
		if s.Abrasive != "" && s.Metal == "" && !x.has("metal") {
			x.fault("metal", "an abrasive and no metal", "the metal the abrasive "+s.Abrasive+" is kept for, one of "+strings.Join(metals, ", "))
		}
		if s.ID != "" && seen.first(x, "station", "station "+string(s.ID), string(s.ID)) {
			r.out.Stations = append(r.out.Stations, s)
		}
	}
}

func (r *reader) stageList(x row) []core.StageName {
	var out []core.StageName
	for _, w := range x.list("stages", "stages of the shop's table, parted by single spaces", func(w string) bool { return w != "" }) {
		if r.stageKnown(x, "stages", w) {
			out = append(out, core.StageName(w))
		}
	}
	return out
}

func (r *reader) stageKnown(x row, field, w string) bool {
	if w == "" || r.known.stage(core.StageName(w)) {
		return w != ""
	}
	var names []string
	for _, n := range r.known.stages() {
		names = append(names, string(n))
	}
	want := "a stage of the shop's table"
	if n := nearest(w, names); n != "" {
		want = "the stage " + n
	} else if len(names) > 0 {
		want += ", one of " + strings.Join(names, ", ")
	}
	x.fault(field, "the unknown stage "+quoted(w), want)
	return false
}

func (r *reader) people() {
	at := map[core.PersonID]int{}
	seen := once{}
	var roles []string
	for _, o := range core.Roles {
		roles = append(roles, string(o))
	}
	wantRoles := "roles parted by single spaces, out of " + strings.Join(roles, ", ")
	for _, x := range r.rows("people.csv") {
		p := core.Person{ID: core.PersonID(x.key("person")), Name: x.text("name"), Left: x.yes("left")}
		for _, w := range x.list("roles", wantRoles, func(w string) bool { return slices.Contains(roles, w) }) {
			p.Roles = append(p.Roles, core.Role(w))
		}
		if p.ID != "" && seen.first(x, "person", "person "+string(p.ID), string(p.ID)) {
			at[p.ID] = len(r.out.People)
			r.out.People = append(r.out.People, p)
		}
	}
	for _, x := range r.rows("qualifications.csv") {
		id := core.PersonID(x.key("person"))
		q := core.Qualification{
			Process:      x.key("process"),
			Metal:        core.Metal(x.word("metal", metals...)),
			MaxThickness: x.decimal("max_thickness_mm", 0, 1000),
			ValidTo:      x.date("valid_to"),
			ConfirmBy:    x.date("confirm_by"),
			Positions:    x.list("positions", wantPositions, func(w string) bool { return slices.Contains(positions, w) }),
		}
		i, ok := at[id]
		if !ok {
			if id != "" && r.sound("people.csv") {
				x.fault("person", "the unknown person "+quoted(string(id)), "a person of people.csv in this folder")
			}
			continue
		}
		r.out.People[i].Qualifications = append(r.out.People[i].Qualifications, q)
	}
	if r.absent("qualifications.csv") && r.known.Book != nil {
		for i := range r.out.People {
			r.out.People[i].Qualifications = r.known.Book.People[r.out.People[i].ID].Qualifications
		}
	}
}

func (r *reader) instruments() {
	seen := once{}
	for _, x := range r.rows("instruments.csv") {
		i := core.Instrument{ID: x.key("instrument"), Kind: x.text("kind"), Name: x.text("name"), DueBy: x.date("due_by")}
		if i.ID != "" && seen.first(x, "instrument", "instrument "+i.ID, i.ID) {
			r.out.Instruments = append(r.out.Instruments, i)
		}
	}
}

func (r *reader) batches() {
	seen := once{}
	for _, x := range r.rows("batches.csv") {
		b := core.Batch{Kind: x.key("kind"), Batch: x.key("batch"), Colour: x.key("colour"), Expires: x.date("expires")}
		if b.Batch != "" && seen.first(x, "batch", "batch "+b.Batch, b.Batch) {
			r.out.Batches = append(r.out.Batches, b)
		}
	}
}
