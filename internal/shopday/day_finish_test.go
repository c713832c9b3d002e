package shopday

import (
	"tagalong/internal/core"
)

// coating: basalt outside, then chalk inside, each face covered in its turn.
func (d *day) coating() {
	line, booth, oven, table := d.tablet("PRETREAT-1"), d.tablet("BOOTH-1"), d.tablet("OVEN-1"), d.tablet("COAT-TABLE-1")
	panel := ticket(d.panel, 1)
	at := func(s *screen, time string) { d.time(time); s.scans(panel) }
	comes := func(s *screen, time string) { d.time(time); s.takes(panel) }

	comes(line, "11:10")
	at(line, "11:15")
	line.works("Pretreat", job{by: "P23", batch: "BT-48"})
	at(line, "11:20")
	line.works("Mask", job{by: "P23", hand: "BOOTH-1"})
	comes(booth, "11:25")
	at(booth, "11:30")
	booth.works("Coat", job{by: "P24", batch: "PB-2610", hand: "OVEN-1"})
	comes(oven, "11:35")
	at(oven, "11:50")
	oven.works("Cure", job{by: "P24", values: baked})
	at(oven, "12:00")
	oven.works("Take the masking off", job{by: "P24", hand: "PRETREAT-1"})

	comes(line, "12:05")
	at(line, "12:10")
	line.works("Key and clean", job{by: "P23"})
	at(line, "12:15")
	line.works("Mask", job{by: "P23", hand: "BOOTH-1"})
	comes(booth, "12:20")
	at(booth, "12:25")
	booth.works("Coat", job{by: "P24", batch: "PC-2609", hand: "OVEN-1"})
	comes(oven, "12:30")
	at(oven, "12:45")
	oven.works("Cure", job{by: "P24", values: baked})
	at(oven, "12:55")
	oven.works("Take the masking off", job{by: "P24", hand: "COAT-TABLE-1"})

	comes(table, "13:00")
	at(table, "13:05")
	table.works("Inspect the coat", job{by: "P20", values: coats, hand: "DOCK-1"})
}

// leaving: packed, loaded, gone and received.
func (d *day) leaving() {
	dock := d.tablet("DOCK-1")
	d.time("13:10")
	dock.takes(ticket(d.panel, 1))
	d.time("13:15")
	dock.scans(ticket(d.panel, 1))
	dock.works("Pack", job{by: "P26"})

	d.time("13:20")
	dock.open("/dock?order=O-5101")
	dock.sees(".dock-one", spaced(d.panel))
	dock.leaves(func() { dock.click(`form[data-command="load"] button.main`) })
	dock.done("Loaded")
	truck := d.named("TRUCK-1", d.last(core.EvLoaded).Ref)

	d.time("13:25")
	dock.leaves(func() { dock.click(`.dock-list a[href*="` + truck + `"]`) })
	dock.types("[name=vehicle]", "PN26 HLE")
	dock.click("[name=handedTo]")
	dock.click(`form[data-command="ship"] > button.main`)
	dock.signs("P25")
	dock.sees(".dock-one", "Gone")

	d.time("15:00")
	fitter := d.desk("P27")
	fitter.open("/site")
	fitter.leaves(func() { fitter.click(`a[href*="` + truck + `"]`) })
	fitter.receives()
	fitter.signs("P27")
	fitter.done("ounted")
}
