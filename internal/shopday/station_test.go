package shopday

import (
	"fmt"
	"slices"
	"strings"

	"tagalong/internal/core"
)

// scans has a hand scanner type a code into the scan field.
func (s *screen) scans(text string) {
	s.t.Helper()
	s.open("/station")
	s.leaves(func() { s.types("[data-scan]", text+"\r") })
}

// ticket is what the QR symbol of a pallet's print holds.
func ticket(code string, print int) string {
	return fmt.Sprintf("HTTPS://SHOP.EXAMPLE/P/%s/%d", code, print)
}

// takes scans a pallet and takes it in.
func (s *screen) takes(code string) {
	s.t.Helper()
	s.scans(code)
	s.leaves(func() { s.click(`form[data-command="take-in"] button`) })
	s.done("Taken in")
}

// badges scans a badge and types the PIN on the pad.
func (s *screen) badges(p core.PersonID) {
	s.t.Helper()
	s.shows(s.badge(p), pin)
}

// shows scans a badge and types a PIN on the pad.
func (s *screen) shows(badge, pin string) {
	s.t.Helper()
	s.sees("#sign", "")
	s.look()
	s.types("#badge", badge+"\r")
	for _, digit := range pin {
		s.click(fmt.Sprintf("#sign [data-key='%c']", digit))
	}
}

// signs is badges where the command goes through and another page follows.
func (s *screen) signs(p core.PersonID) {
	s.t.Helper()
	s.leaves(func() { s.badges(p) })
}

// job is what a person does at a work page.
type job struct {
	by     core.PersonID
	batch  string             // chosen where the page asks for one
	values map[string]float64 // measured, by characteristic
	only   []string           // items signed; empty: all on the page
	hand   core.StationID     // handed over in the same motion
}

// works does one stage on the pallet that the page shows: every check, then the
// signature.
func (s *screen) works(title string, j job) {
	s.t.Helper()
	s.ready(title, j)
	s.signs(j.by)
	s.done(title + ": signed")
}

// ready goes through the faces of the work page up to the signing panel.
func (s *screen) ready(title string, j job) {
	s.t.Helper()
	s.sees("main h1", title)
	for range 40 {
		s.measures(j)
		if says := s.said("[data-go]"); strings.HasSuffix(says, "batch") {
			s.click(`.face:not([hidden]) input[value="` + j.batch + `"] + span`)
			continue
		}
		s.click("[data-go]")
		if asks[bool](s, `document.querySelector("#sign").open`) {
			s.includes(j.only)
			if j.hand != "" {
				s.click(`#sign label:has(input[value="` + string(j.hand) + `"])`)
			}
			return
		}
	}
	s.t.Fatalf("%s: the work page never came to the signature\n%s", s.name, s.text())
}

// measures types the readings the visible face asks for.
func (s *screen) measures(j job) {
	s.t.Helper()
	type reading struct{ ID, Check, Gauge string }
	for _, r := range asks[[]reading](s, `[...document.querySelectorAll(".face:not([hidden]) [data-measure], dialog[open] [data-measure]")]
		.filter(e => e.checkVisibility() && !e.querySelector("[data-number]").value)
		.map(e => ({ID: e.querySelector("[data-number]").id, Check: e.querySelector("[name$=characteristic]").value,
			Gauge: e.querySelector("[data-gauge]:not([disabled])")?.value === "" ? e.querySelector("[data-gauge]").name : ""}))`) {
		v, ok := j.values[r.Check]
		if !ok {
			s.t.Fatalf("%s: the page asks for %s, which nobody has measured", s.name, r.Check)
		}
		s.types(`[id="`+r.ID+`"]`, fmt.Sprint(v))
		if r.Gauge != "" {
			s.chooses(`[name="`+r.Gauge+`"]`, gauges[r.Check])
		}
	}
}

// includes unticks, in the signing panel, every lot that is not of these items.
func (s *screen) includes(names []string) {
	s.t.Helper()
	if len(names) == 0 {
		return
	}
	lots := asks[[]string](s, `[...document.querySelectorAll("#sign .signed .tick")].map(e => e.innerText)`)
	for i, text := range lots {
		if !slices.ContainsFunc(names, func(n string) bool { return strings.Contains(text, n) }) {
			s.click(fmt.Sprintf(`#sign label:has([data-include="%d"])`, i))
		}
	}
}

// refuses is the inspector's other button: the whole lot is not as it should be.
func (s *screen) refuses(j job, why string) {
	s.t.Helper()
	s.click("[data-not-good]")
	s.sees("dialog[data-counts]", "how many?")
	s.look()
	s.click(`dialog[open] [data-why="` + why + `"]`)
	s.click("dialog[open] [data-tally-done]")
	s.click("[data-go]")
	s.signs(j.by)
}

// hands gives the pallet of the page on to a station, by the list of stations.
func (s *screen) hands(to core.StationID) {
	s.t.Helper()
	s.click(`main [data-open="more"]`)
	s.click(`#more [data-open="hand"]`)
	s.sees("#hand", "Hand over to")
	s.look()
	s.leaves(func() { s.click(`#hand form:has(input[value="` + string(to) + `"]) button`) })
	s.done("Handed over")
}

// prints numbers a print of the page's pallet, and looks at the traveller.
func (s *screen) prints() {
	s.t.Helper()
	s.click(`main [data-open="more"]`)
	s.leaves(func() { s.click(`#more form[data-command="print-traveller"] button`) })
}

// more opens one of the other things to do with a pallet.
func (s *screen) more(dialog string) {
	s.t.Helper()
	s.click(`main [data-open="more"]`)
	s.click(`#more [data-open="` + dialog + `"]`)
	s.sees("#"+dialog, "")
	s.look()
}
