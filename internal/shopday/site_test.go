package shopday

import (
	"cmp"
	"strings"
	"testing"
	"testing/fstest"

	"tagalong/internal/app"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
)

// coversOrder is an order of four service covers, cut in one nest.
var coversOrder = fstest.MapFS{
	"orders.csv": {Data: []byte("order,customer,site,reference,promised,long_haul,priority,consent\n" +
		"O-5103,Gorse Lane Pumping Station,SITE-LARKFIELD,GL-40,2026-11-27,,,\n")},
	"lines.csv": {Data: []byte("order,line,item,rev,qty\nO-5103,1,SC-COVER,A,4\n")},
	"nests.csv": {Data: []byte("nest,material,material_rev,part,item,rev,order,line,qty\nN-5003,SH-5005-3,1,1,SC-COVER,A,O-5103,1,4\n")},
}

// doneAt is the station that does a stage of the covers.
var doneAt = map[core.StageName]core.StationID{
	"edge-round": "ROUND-AL", "fold": "BRAKE-1", "rivet-nut": "HARDWARE-1", "mask": "PRETREAT-1", "pretreat": "PRETREAT-1",
	"coat": "BOOTH-1", "cure": "OVEN-1", "unmask": "OVEN-1", "coat-inspect": "COAT-TABLE-1", "pack": "DOCK-1",
}

// site is the story of four covers that go to a site and of one that comes back.
type site struct {
	*house
	covers        core.LotID
	pallet        core.PalletCode // they left on
	back          core.PalletCode // one came back on
	late          core.PalletCode // one came on, later than the others
	truck, second string
	tablet, phone *screen
	dock          *screen
}

// TestPartsAtTheSite: a consignment is received, unpacked, three of its four
// covers fitted out and accepted; one goes back, is held, looked at, packed and
// sent again.
func TestPartsAtTheSite(t *testing.T) {
	s := &site{house: furnish(open(t))}
	s.covered()
	s.dock = s.house.tablet("DOCK-1")
	s.sends()
	s.receives()
	s.unpacks()
	s.fits()
	s.accepts()
	s.sendsBack()
	s.takenBack()
	s.sentAgain()
	s.told()
	s.verified()
}

// covered makes four covers, packed at the dock.
func (s *site) covered() {
	s.t.Helper()
	_, faults, err := s.app.Import(s.t.Context(), "", "covers", coversOrder)
	must(s.t, err)
	for _, f := range faults {
		s.t.Fatal(f)
	}
	s.covers = s.separated("N-5003", "SH-5005-3", "LASER-1", "BENCH-1", "A")["SC-COVER"].ID
	s.pallet = s.palletOf(s.covers)
	for range 20 {
		next := core.NextSteps(s.book(), s.lot(s.covers))
		if len(next) == 0 || next[0].Stage == "ship" {
			return
		}
		at, ok := doneAt[next[0].Stage]
		if !ok {
			s.t.Fatalf("nobody here does %s", next[0].Stage)
		}
		s.takeInOnce(at)
		s.at(at).does(s.signOff(s.pallet, next[0].Stage, s.covers), cmp.Or(hands[at], "P16"))
	}
	s.t.Fatal("the covers' route has no end")
}

func (s *site) takeInOnce(at core.StationID) {
	s.t.Helper()
	if s.shop.pallet(s.pallet).Station != at {
		s.takeIn(s.pallet, at)
	}
}

// sends loads what is ready of the order and sends it off.
func (s *site) sends() {
	s.truck = s.leaves("PN26 HLE")
	s.dock.sees(".dock-one", "Gone")
	s.dock.sees(".dock-one", "4 service covers")
	s.answers("Order O-5103 for Gorse Lane Pumping Station: its one pallet left today at " + s.clock().Format("15:04") +
		". Promised for Friday 27 November.")
}

// leaves loads and sends a consignment of the order; its vehicle's registration
// is asked.
func (s *site) leaves(vehicle string) string {
	s.t.Helper()
	s.pass(5 * minute)
	s.dock.open("/dock?order=O-5103")
	s.dock.leaves(func() { s.dock.click(`form[data-command="load"] button.main`) })
	s.dock.done("Loaded")
	truck := s.last(core.EvLoaded).Ref
	s.pass(5 * minute)
	s.dock.leaves(func() { s.dock.click(`.dock-list a[href*="` + truck + `"]`) })
	s.dock.sees(".dock-one", "registration plate")
	s.dock.types("[name=vehicle]", vehicle)
	s.dock.click(`form[data-command="ship"] > button.main`)
	s.dock.sees("[data-part=ink-says]", "Have the driver sign on the tablet, or tick that the packing list is signed.")
	s.dock.click(`[data-open="driver"]`)
	s.dock.sees("#driver", "by the drawings")
	s.dock.draws("#driver canvas")
	s.dock.look()
	s.dock.click(`#driver [data-close]`)
	s.dock.sees("[data-part=ink-state]", "signed")
	s.dock.click(`form[data-command="ship"] > button.main`)
	s.dock.signs("P25")
	s.dock.until("the driver's signature", `document.querySelector(".photos img")?.naturalWidth > 0`)
	if e := s.last(core.EvShipped); len(e.Photos) != 1 {
		s.t.Errorf("sent off with photos %v", e.Photos)
	}
	return truck
}

// receives: the site's tablet rests at what is on its way.
func (s *site) receives() {
	s.pass(90 * minute)
	one, err := s.app.EnrolmentCode(s.t.Context(), app.Machine(), "SITE-LARKFIELD")
	must(s.t, err)
	s.tablet = s.device("SITE-LARKFIELD", browsertest.Tablet)
	s.tablet.open("/enrol")
	s.tablet.leaves(func() { s.tablet.types("input[name=code]", one.Text()+"\r") })
	s.comes(s.truck)
	s.tablet.sees(".site", "4 not unpacked yet")
	s.phone = s.device("phone of P27", browsertest.Phone)
	s.phone.signIn("P27")
	s.phone.leaves(func() { s.phone.click(`.doors a[href="/site"]`) })
	s.looks("site-list")
	s.answers("Order O-5103 for Gorse Lane Pumping Station: all of it is at the fitting site, Larkfield, not unpacked yet. Promised for Friday 27 November.")
}

// comes receives a consignment at the site.
func (s *site) comes(truck string) {
	s.t.Helper()
	s.tablet.open("/station")
	s.tablet.leaves(func() { s.tablet.click(`a[href*="` + truck + `"]`) })
	s.tablet.sees(".site", "service cover")
	s.tablet.receives()
	s.tablet.signs("P27")
	s.tablet.done("is counted")
	s.last(core.EvReceived)
	s.tablet.open("/site")
}

// receives counts what a consignment's page lists: one box by itself, several by
// a tick each.
func (s *screen) receives() {
	s.t.Helper()
	s.sees(".boxes", "to count")
	if n := asks[int](s, `document.querySelectorAll(".boxes [type=checkbox]").length`); n > 1 {
		s.click("form[data-ticks] button.main")
		s.sees("[data-part=none-ticked]", "Tick each box")
		s.js(`document.querySelectorAll(".boxes [type=checkbox]").forEach(e => e.click())`)
		s.click("form[data-ticks] button.main")
		return
	}
	s.leaves(func() { s.click(".boxes a.box") })
	s.click("form[data-box] button.main")
}

// unpacks: all of it, while the phone's page still offers the same.
func (s *site) unpacks() {
	s.tablet.leaves(func() { s.tablet.click(`a[href*="order=O-5103"]`) })
	s.tablet.sees(".site-tabs [aria-current]", "Unpack")
	s.tablet.sees(".site-row", "on pallet "+spaced(string(s.pallet)))
	s.looks("site-unpack")
	s.phone.offers("unpack")
	s.phone.click("[data-whole]")

	s.tablet.click("[data-whole]")
	s.tablet.click(".site-sign button.main")
	s.tablet.sees("#sign", "4 of 4 service covers")
	s.tablet.signs("P27")
	s.tablet.done("Unpacked")
	s.tablet.sees(".site-tabs [aria-current]", "Fit out")

	s.phone.no("unpacked twice", panelSays, "“Unpack” is done already for 4 service covers; next is “Fit out”.", "step-done", func() {
		s.phone.click(".site-sign button.main")
		s.phone.badges("P27")
	})
	s.looks("site-refused")
	s.phone.click("#refusal [data-close]")
}

// fits: three of the four, by the number pad; five are not there. First the
// unpacking is taken back under a page that is about to be signed.
func (s *site) fits() {
	unpacked := s.last(core.EvSigned)
	s.phone.offers("fit-out")
	s.phone.click("[data-whole]")
	s.at("SITE-LARKFIELD").does(core.Correct{Event: unpacked.ID, Reason: "the lid was only lifted"}, "P27")
	s.phone.no("fitted out before it is unpacked", panelSays, "4 service covers have not been unpacked.", "not-unpacked", func() {
		s.phone.click(".site-sign button.main")
		s.phone.badges("P27")
	})
	s.phone.sees("#refusal", "Unpack them first, and sign that.")
	s.phone.click("#refusal [data-close]")
	s.at("SITE-LARKFIELD").does(core.WorkAtSite{Stage: "unpack", Picks: []core.Pick{{Lot: s.covers, Qty: 4}}}, "P27")
	s.phone.offers("fit-out")
	s.phone.click("[data-whole]")
	s.tablet.click("[data-count]")
	s.tablet.click(`.site-pad [data-key="5"]`)
	s.tablet.sees(".site-row [data-says]", "there are 4")
	s.tablet.click(".site-sign button.main")
	if asks[bool](s.tablet, `document.querySelector("#sign").open`) {
		s.t.Error("five of four may be signed")
	}
	s.tablet.click(`.site-pad [data-key="back"]`)
	s.tablet.click(`.site-pad [data-key="3"]`)
	s.looks("site-fit-out")
	s.tablet.click(".site-sign button.main")
	s.tablet.signs("P27")
	s.tablet.done("Fitted out")
	s.tablet.sees(".came", "3 fitted out, 1 unpacked")
	s.answers("Order O-5103 for Gorse Lane Pumping Station: all of it is at the fitting site, Larkfield (three fitted out, one unpacked). Promised for Friday 27 November.")
	s.phone.no("more fitted out than there are", panelSays, "The record has 1 service cover there, not 4.", "more-than-there", func() {
		s.phone.click(".site-sign button.main")
		s.phone.badges("P27")
	})
	s.phone.click("#refusal [data-close]")
}

// accepts: the phone's page is older than a sign-off that was taken back.
func (s *site) accepts() {
	fitted := s.last(core.EvSigned)
	s.phone.offers("accept")
	s.phone.click("[data-whole]")
	s.at("SITE-LARKFIELD").does(core.Correct{Event: fitted.ID, Reason: "one hinge was left out"}, "P27")
	s.phone.no("accepted after the fitting out was taken back", panelSays, "These parts are not at the site, or no longer as this page shows them.", "lot-not-at-site", func() {
		s.phone.click(".site-sign button.main")
		s.phone.badges("P27")
	})
	s.phone.click("#refusal [data-close]")
	s.phone.offers("fit-out")
	s.phone.types("[data-count]", "3")
	s.phone.click(".site-sign button.main")
	s.phone.signs("P27")
	s.phone.offers("accept")
	s.phone.click("[data-all]")
	s.phone.click(".site-sign button.main")
	s.phone.signs("P27")
	s.phone.done("Accepted")
	s.answers("Order O-5103 for Gorse Lane Pumping Station: all of it is at the fitting site, Larkfield (three accepted, one unpacked). Promised for Friday 27 November.")
}

// offers opens the order's page at one kind of work.
func (s *screen) offers(stage string) {
	s.t.Helper()
	s.open("/site?order=O-5103&at=SITE-LARKFIELD&do=" + stage)
	s.sees(".site-tabs [aria-current]", "")
}

// sendsBack: one cover goes back, with a reason, on a fresh pallet.
func (s *site) sendsBack() {
	s.phone.offers("return")
	s.phone.types(`.site-row:has(.soft) [data-count]`, "1")
	s.looks("site-send-back")
	unpacked := asks[int](s.phone, `[...document.querySelectorAll(".site-row")].findIndex(e => e.innerText.includes("unpacked"))`)
	if unpacked != 0 {
		s.t.Fatalf("the cover that is only unpacked stands in row %d", unpacked)
	}
	s.phone.types("[name=note]", "corner dented")
	s.phone.click(".site-sign button.main")
	s.phone.signs("P27")
	s.phone.done("Sent back")
	e := s.last(core.EvSentBack)
	s.back = e.Pallets[0]
	s.phone.sees(".sent-back", spaced(string(s.back)))
	s.phone.sees(".sent-back", "held: corner dented")
	s.phone.sees(".sent-back .caution", "Look at the mass before you lift.")
	s.looks("site-sent-back")
	s.phone.leaves(func() { s.phone.click(`.sent-back form[data-command="print-traveller"] button`) })
	s.phone.sees("body", spaced(string(s.back)))
	s.last(core.EvPrinted)
	s.answers("Order O-5103 for Gorse Lane Pumping Station: three service covers are at the fitting site, Larkfield, and accepted; " +
		"the service cover is to come back from the fitting site, Larkfield (corner dented). Promised for Friday 27 November.")
}

// takenBack: the dock knows what comes, takes it in, and may not pack it before
// quality has spoken.
func (s *site) takenBack() {
	s.pass(120 * minute)
	s.dock.open("/dock")
	s.dock.sees(".dock-list", spaced(string(s.back)))
	s.dock.open("/dock?order=O-5103")
	s.dock.sees(".missing", "held: corner dented")
	s.looks("dock-coming-back")
	s.dock.takes(ticket(string(s.back), 1))
	s.dock.scans(string(s.back))
	s.dock.sees(".stops h1", "1 service cover is held: corner dented")
	s.answers("Order O-5103 for Gorse Lane Pumping Station: three service covers are at the fitting site, Larkfield, and accepted; " +
		"the service cover, sent back from the site, is held at the packing and dock (corner dented). Promised for Friday 27 November.")

	s.pass(10 * minute)
	desk := s.desk(quality)
	desk.open("/quality")
	decide := `li.case:has(input[name=problem]) `
	desk.sees("li.case", "sent back from the site, by Isolde Grey-Marsh")
	desk.click(decide + "details summary")
	desk.click(decide + `label:has([value=use-as-is])`)
	desk.types(decide+"[name=reason]", "hidden once it is fitted")
	desk.look()
	desk.click(decide + "button.main")
	desk.badges(quality)
	desk.sees("#sign", "Second signature")
	desk.signs(inspector)
	s.last(core.EvDisposed)
}

// sentAgain: packed, loaded and sent once more, and received.
func (s *site) sentAgain() {
	s.pass(5 * minute)
	s.dock.scans(string(s.back))
	s.dock.works("Pack", job{by: "P26"})
	s.second = s.leaves("RK25 BWO")
	s.answers("Order O-5103 for Gorse Lane Pumping Station: three service covers are at the fitting site, Larkfield, and accepted; the other pallet left today at " +
		s.clock().Format("15:04") + ". Promised for Friday 27 November.")
	s.pass(90 * minute)
	s.comes(s.second)
	s.tablet.leaves(func() { s.tablet.click(`a[href*="order=O-5103"]`) })
	s.tablet.sees(".site", "Consignment "+spaced(s.truck))
	s.tablet.sees(".site", "Consignment "+spaced(s.second))
	s.phone.offers("unpack")
	s.looks("site-two-consignments")
}

// told: the history of the order and of the cover, what each consignment
// brought, and each pallet's end.
func (s *site) told() {
	desk := s.desk("P04")
	for _, path := range []string{"/history/order/O-5103", "/history/lot/" + string(s.returned())} {
		desk.open(path)
		for _, want := range []string{
			"Received consignment " + spaced(s.truck) + " at the fitting site, Larkfield", "Unpacked 4 service covers",
			"Sent 1 service cover back from the fitting site, Larkfield, on pallet " + spaced(string(s.back)) + ": corner dented",
			"Took pallet " + spaced(string(s.back)) + " in at the packing and dock",
			"Decided on 1 service cover: use as it is, under concession: hidden once it is fitted",
			"Packed 1 service cover", "Sent consignment " + spaced(s.second) + " off with 1 service cover: vehicle RK25 BWO",
			"Received consignment " + spaced(s.second) + " at the fitting site, Larkfield",
		} {
			desk.sees(".entry .said", want)
		}
	}
	desk.open("/history/order/O-5103")
	desk.sees(".entry .said", "Fitted out 3 service covers")
	desk.sees(".entry .said", "Accepted 3 service covers")
	// What left is told as it left, though one of the four came back.
	s.tablet.open("/site?truck=" + s.truck)
	s.tablet.sees(".boxes", "4 service covers")
	for text, want := range map[string]string{
		s.truck:          "for the fitting site, Larkfield, with one pallet was received at the site today",
		string(s.pallet): "took four service covers of order O-5103 for Gorse Lane Pumping Station away on consignment " + spaced(s.truck),
		string(s.back):   "took one service cover of order O-5103 for Gorse Lane Pumping Station away on consignment " + spaced(s.second),
	} {
		if got := desk.finds(text); !strings.Contains(got, want) {
			s.t.Errorf("find %s says %s", text, got)
		}
	}
}

// returned is the lot that came back.
func (s *site) returned() core.LotID {
	s.t.Helper()
	lots, err := s.store.AtSites(s.t.Context(), []core.StationID{"SITE-LARKFIELD"}, 10)
	must(s.t, err)
	for _, l := range lots {
		if l.Qty == 1 {
			return l.ID
		}
	}
	s.t.Fatal("the cover that came back is not at the site")
	return ""
}

// answers asks the service's find box.
func (s *site) answers(want string) {
	s.t.Helper()
	found, err := s.app.WhereIs(s.t.Context(), "O-5103")
	must(s.t, err)
	if found.Sentence != want {
		s.t.Errorf("find says  %s\nit should be %s", found.Sentence, want)
	}
}

// signIn signs a person in on a device of their own.
func (s *screen) signIn(p core.PersonID) {
	s.t.Helper()
	s.open("/signin")
	s.types("input[name=badge]", s.badge(p)+"\r")
	s.leaves(func() { s.types("input[name=pin]", pin+"\r") })
}

// looks takes pictures, by day and by night, of whoever was last at work: the
// tablet at the site and the phone, or the dock.
func (s *site) looks(name string) {
	s.t.Helper()
	for what, x := range map[string]*screen{"": s.tablet, "-phone": s.phone, "-dock": s.dock} {
		if x == nil || (what == "-dock") != strings.HasPrefix(name, "dock") {
			continue
		}
		x.pictures(name + what)
	}
}

func (s *screen) pictures(name string) {
	s.t.Helper()
	if bare := asks[string](s, `[...document.querySelectorAll("[data-count], [data-stepper] input, [data-type=number]:not([type=hidden])")]
		.filter(e => e.checkVisibility() && e.inputMode !== "numeric" && !document.querySelector(".site-pad")?.checkVisibility()).map(e => e.name || e.id).join(" ")`); bare != "" {
		s.t.Errorf("%s: %s asks for a count without the phone's number pad: %s", s.name, name, bare)
	}
	for _, light := range []string{"day", "night"} {
		s.js(`document.documentElement.dataset.light = ` + quoted(light))
		if asks[bool](s, `document.documentElement.scrollWidth > innerWidth`) {
			s.t.Errorf("%s: %s is wider than the screen", s.name, name)
		}
		browsertest.Axe(s.t, s.ctx)
		browsertest.Screenshot(s.t, s.ctx, name+"-"+light)
	}
	s.js(`delete document.documentElement.dataset.light`)
}
