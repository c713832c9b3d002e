package shopday

import (
	"time"

	"tagalong/internal/core"
)

const minute = time.Minute

// gauges are the ones at hand, by what they read.
var gauges = map[string]string{
	"angle": "AG-01", "flange": "CA-01", "throat": "WG-01", "metal-temperature": "OR-01",
	"film-thickness": "TG-02", "film-thickness-outside": "TG-02", "film-thickness-inside": "TG-02",
}

// What the gauges say.
var (
	folds = map[string]float64{"angle": 90.1, "flange": 30.2}
	weld  = map[string]float64{"throat": 3.1}
	baked = map[string]float64{"metal-temperature": 191}
	coats = map[string]float64{"film-thickness-outside": 84, "film-thickness-inside": 78}
)

func spaced(code string) string { return code[:4] + " " + code[4:] }

// parting: the trays go on alone, so the ticket of the first pallet is out of
// date; the rounding line looks, goes on and prints it again.
func (d *day) parting() {
	brake := d.tablet("BRAKE-1")
	d.time("08:45")
	brake.scans(ticket(d.parts, 1))
	brake.works("Fold", job{by: "P22", values: folds})

	d.time("08:50")
	brake.scans(ticket(d.parts, 1))
	brake.more("divide")
	brake.types("#"+brake.pickOf("roof tray"), "2")
	brake.leaves(func() { brake.click("#divide button.main") })
	brake.done("Parts moved")
	d.trays = d.named("PALLET-3", string(d.palletOfItem("O-5102", "RT-2400")))

	d.time("08:55")
	brake.scans(d.trays)
	brake.prints()
	d.time("09:00")
	brake.scans(ticket(d.trays, 1))
	brake.hands("PRETREAT-1")

	// Without a new ticket the pallet leaves only if somebody says so.
	d.time("09:05")
	brake.scans(d.parts)
	brake.click(`main [data-open="more"]`)
	brake.click(`#more [data-open="hand"]`)
	brake.click(`#hand form:has(input[value="ROUND-AL"]) button`)
	brake.sees("#refusal", "The ticket of pallet "+spaced(d.parts)+" is missing or out of date.")
	brake.look()
	brake.leaves(func() { brake.click("#refusal [data-part=confirm]") })
	brake.done("Handed over")

	round := d.tablet("ROUND-AL")
	d.time("09:10")
	round.scans(ticket(d.parts, 1))
	round.sees("main h1", "This ticket is out of date: it is print 1, and the pallet has changed since.")
	round.sees(".changes", "2 × roof tray 2400 left")
	round.leaves(func() { round.click("main a.main") })
	round.leaves(func() { round.click(`form[data-command="take-in"] button`) })
	d.time("09:15")
	round.scans(ticket(d.parts, 1))
	round.leaves(func() { round.click(`main form[data-command="print-traveller"] button`) })
	d.time("09:20")
	round.scans(ticket(d.parts, 2))
	round.works("Round the edges", job{by: "P21", hand: "BRAKE-1"})

	d.time("09:25")
	brake.takes(ticket(d.parts, 2))
	d.time("09:30")
	brake.scans(ticket(d.parts, 2))
	brake.works("Fold", job{by: "P22", values: folds})
	d.time("09:35")
	brake.hands("WELD-1")
}

// pickOf is the field, in the panel that moves parts, for the lot whose name
// holds a text.
func (s *screen) pickOf(name string) string {
	s.t.Helper()
	return asks[string](s, `[...document.querySelectorAll("#divide label[for]")].find(e => e.textContent.includes(`+quoted(name)+`)).htmlFor`)
}

// welding: the set is gathered and becomes one panel.
func (d *day) welding() {
	bench := d.tablet("WELD-1")
	d.time("09:40")
	bench.takes(ticket(d.parts, 2))
	d.time("09:45")
	bench.takes(ticket(d.posts, 1))
	d.time("09:50")
	bench.open("/station")
	bench.leaves(func() { bench.click(`.rest-coming a[href*="WP-2400"]`) })
	bench.leaves(func() { bench.click(`form[data-command="gather"] button`) })
	bench.done("Gathered")
	d.named("UNIT-1", d.last(core.EvGathered).Ref)

	d.time("09:55")
	bench.click(`[data-open="assemble"]`)
	bench.sees("#assemble", "wall panel 2400")
	bench.look()
	bench.click(`#assemble input[value="FA-121"] + span`)
	bench.click(`#assemble .tick`)
	bench.click(`#assemble button.main`)
	bench.signs("P13")
	bench.done("signed")
	d.panel = d.named("PALLET-4", string(d.palletOfItem("O-5101", "WP-2400")))
	d.time("10:00")
	bench.scans(d.panel)
	bench.prints()
	d.time("10:05")
	bench.scans(ticket(d.panel, 1))
	bench.works("Dress the welds", job{by: "P15", hand: "INSPECT-1"})
}

// inspection: refused once (then stopped is called), ground out, rewelded, dressed, rounded, released.
func (d *day) inspection(stopped func()) {
	bay, bench := d.tablet("INSPECT-1"), d.tablet("WELD-1")
	d.time("10:10")
	bay.takes(ticket(d.panel, 1))
	d.time("10:15")
	bay.scans(ticket(d.panel, 1))
	bay.refuses(job{by: "P18"}, "weld not as asked")
	stopped()

	d.time("10:20")
	quality := d.desk("P03")
	quality.open("/quality")
	quality.click("li.case details summary")
	quality.click(`li.case input[value="rework"] + span`)
	quality.chooses("li.case select[data-fills]", quality.option("li.case select[data-fills]", "WELD-REPAIR"))
	quality.chooses("li.case select[name=rejoin]", "30")
	quality.types("li.case input[name=reason]", "undercut: grind out and weld again")
	quality.look()
	quality.click("li.case form[data-dispose] button.main")
	quality.signs("P03")

	d.time("10:25")
	bay.scans(ticket(d.panel, 1))
	bay.hands("WELD-1")
	d.time("10:30")
	bench.takes(ticket(d.panel, 1))
	d.time("10:35")
	bench.scans(ticket(d.panel, 1))
	bench.works("Grind the weld out", job{by: "P13"})
	d.time("10:45")
	bench.scans(ticket(d.panel, 1))
	bench.works("Weld", job{by: "P13", batch: "FA-121"})
	d.time("10:50")
	bench.scans(ticket(d.panel, 1))
	bench.works("Dress the welds", job{by: "P15"})
	d.time("10:55")
	bench.scans(ticket(d.panel, 1))
	bench.works("Round the edges by hand", job{by: "P15", hand: "INSPECT-1"})

	d.time("11:00")
	bay.takes(ticket(d.panel, 1))
	d.time("11:05")
	bay.scans(ticket(d.panel, 1))
	bay.works("Inspect the welds", job{by: "P19", values: weld, hand: "PRETREAT-1"})
}

// option is the value of the option whose text holds a word.
func (s *screen) option(css, word string) string {
	s.t.Helper()
	return asks[string](s, `[...document.querySelector(`+quoted(css)+`).options].find(o => o.dataset.name === `+quoted(word)+` || o.text.includes(`+quoted(word)+`)).value`)
}
