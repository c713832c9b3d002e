package shopday

import (
	"slices"
	"strings"
	"testing"

	"tagalong/internal/app"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
)

// TestWhatStationsKeep: words left for whoever comes next, the belt that is
// really mounted, and the gauge a tablet offers first.
func TestWhatStationsKeep(t *testing.T) {
	h := furnish(open(t))
	f := newFloor(h.shop)
	h.notes(f)
	h.belts()
	h.discs()
	h.verified()
}

// TestNewPIN: a PIN that is refused costs neither the badge nor the one-time
// code; a code that is refused is typed anew.
func TestNewPIN(t *testing.T) {
	h := furnish(open(t))
	badge := h.badge("P22")
	one, _, err := h.app.PINCode(t.Context(), app.Machine(), "P22")
	must(t, err)
	s := h.device("phone", browsertest.Phone)
	s.open("/set-pin")
	s.types("input[name=badge]", badge)
	s.types("input[name=code]", one.Text())
	sets := func(pin, again string) {
		s.leaves(func() {
			s.types("input[name=pin]", pin)
			s.types("input[name=again]", again+"\r")
		})
	}
	for _, x := range []struct{ pin, again, says string }{
		{"123456", "123456", "That PIN is among the first anyone would try."},
		{"604817", "604871", "The two PINs you typed differ."},
	} {
		sets(x.pin, x.again)
		s.sees("[role=alert]", x.says)
		if got := asks[[]string](s, `["badge", "code", "pin", "again"].map(n => document.querySelector("input[name=" + n + "]").value)`); !slices.Equal(got, []string{badge, one.Text(), "", ""}) {
			t.Errorf("after %q the form holds %q, want the badge and the code only", x.says, got)
		}
		if !asks[bool](s, `document.activeElement.name === "pin"`) {
			t.Errorf("after %q the PIN is not what is typed next", x.says)
		}
	}
	sets("604817", "604817")
	s.sees("[role=status]", "The PIN of Alaric Penn is set.")

	// The code is used up; a second try is told so, and nothing is kept.
	s.open("/set-pin")
	s.types("input[name=badge]", badge)
	s.types("input[name=code]", one.Text())
	sets("604819", "604819")
	s.sees("[role=alert]", "not good, or no longer")
	if got := asks[[]string](s, `["badge", "code", "pin"].map(n => document.querySelector("input[name=" + n + "]").value)`); !slices.Equal(got, []string{"", "", ""}) {
		t.Errorf("after a refused code the form holds %q", got)
	}
}

// notes: what is typed with a sign-off or a hand-over is read on the next
// tablet, and on none after that one.
func (h *house) notes(f *floor) {
	pallet := string(f.blades)
	h.at("ROUND-AL").does(core.PrintTraveller{Pallet: f.blades})
	round, first, second, third := h.tablet("ROUND-AL"), h.tablet("BRAKE-1"), h.tablet("BRAKE-2"), h.tablet("BRAKE-3")
	round.scans(pallet)
	round.ready("Round the edges", job{only: []string{"louvre side"}, hand: "BRAKE-1"})
	round.types("#sign input[name=note]", "one side has a scratch inside")
	round.signs(operator)
	round.done("Round the edges: signed")
	signed := h.last(core.EvSigned).Happened.Format("15:04")

	noted := func(s *screen, text string) {
		h.t.Helper()
		s.scans(pallet)
		s.sees(".note summary", text)
	}
	scratch := "Note from edge rounding line, aluminium belts, " + signed + ", Merrin Stroud: one side has a scratch inside"
	noted(first, scratch) // on its way
	first.click(".note summary")
	first.sees(".note div", scratch)
	first.look()
	first.takes(pallet)
	noted(first, scratch) // while it is there

	first.click(`main [data-open="more"]`)
	first.click(`#more [data-open="hand"]`)
	first.types("#hand [data-note-for]", "needs the long tool")
	first.leaves(func() { first.click(`#hand form:has(input[value="BRAKE-2"]) button`) })
	first.done("Handed over to press brake 2")
	tool := "Note from press brake 1, " + h.last(core.EvHandedOver).Happened.Format("15:04") + ": needs the long tool"
	noted(second, tool)
	second.takes(pallet)
	noted(second, tool)
	if said := second.said(".note"); said != tool {
		h.t.Errorf("at the next station but one the page still says %q", said)
	}
	second.hands("BRAKE-3")
	third.scans(pallet)
	third.sees("main h1", "Take it in here?")
	if said := third.said(".note"); said != "" {
		h.t.Errorf("two stations on, the page still says %q", said)
	}
	if last := h.history(f.blades); !slices.ContainsFunc(last, func(e core.Event) bool {
		return e.Kind == core.EvSigned && e.Note == "one side has a scratch inside"
	}) {
		h.t.Error("the note of the sign-off is not in the history")
	}
}

// history is what happened to a pallet.
func (h *house) history(p core.PalletCode) []core.Event {
	h.t.Helper()
	rows, err := h.store.History(h.t.Context(), app.HistoryQuery{Pallet: p})
	must(h.t, err)
	var out []core.Event
	for _, r := range rows {
		out = append(out, r.Event)
	}
	return out
}

// touched is the metals a belt or disc has met.
func (h *house) touched(id string) []core.Metal {
	h.t.Helper()
	w, err := h.app.World(h.t.Context(), core.Names{Abrasives: []string{id}}, "")
	must(h.t, err)
	return w.State.Abrasives[id].Touched
}

// belts: a belt from the stainless line is mounted for aluminium, and refused
// when it is named; a clean one goes on, and the tablet offers it next time.
func (h *house) belts() {
	steel := h.separated("N-7010", "SH-304-2", "LASER-1", "BENCH-1", "AAAAAAAAAAA")
	hinges := steel["HP-80"]
	h.work("ROUND-SS", h.palletOf(hinges.ID), "edge-round", hinges.ID)
	trays := h.palletOfItem("O-4101", "RT-2400")
	tray := h.lotOf(trays, "RT-2400")
	if got := h.touched("BELT-SS-1"); !slices.Equal(got, []core.Metal{core.Stainless}) {
		h.t.Fatalf("the stainless belt has touched %v", got)
	}

	round := h.tablet("ROUND-AL")
	round.takes(string(trays))
	round.scans(string(trays))
	round.ready("Round the edges", job{only: []string{"roof tray"}})
	round.sees("#sign .mounted", "Mounted: BELT-AL-1, has touched aluminium.")
	round.click("[data-mounted-other]")
	round.types("#sign [data-abrasive]", "belt-ss-1")
	round.look()
	round.no("steel, then aluminium", panelSays, "BELT-SS-1 has touched stainless; it may never touch aluminium.", "abrasive-touched", func() { round.badges(operator) })
	round.sees("#refusal", "Mount a belt or disc that never touched stainless, or use another station.")
	round.sees("#refusal", "No concession exists for this rule.")
	round.click("#refusal [data-close]")

	round.click("[data-go]")
	round.js(`document.querySelector("#sign [data-abrasive]").value = ""`)
	round.types("#sign [data-abrasive]", "BELT-AL-2")
	round.signs(operator)
	round.done("Round the edges: signed")
	if got := h.touched("BELT-AL-2"); !slices.Equal(got, []core.Metal{core.Aluminium}) || h.lot(tray).Facts.At(core.Fact{Name: core.EdgesRounded}, h.clock()) != core.Yes {
		h.t.Errorf("with the clean belt: it touched %v, the lot is %+v", got, h.lot(tray))
	}

	// The next sign-off begins with the belt that was named; emptied, the field
	// stands for the one on record again.
	round.scans(string(trays))
	round.ready("Round the edges", job{})
	if got := asks[string](round, `document.querySelector("#sign label:not([hidden]) [data-abrasive]").value`); got != "BELT-AL-2" {
		h.t.Errorf("the tablet offers %q as mounted, want the belt named last", got)
	}
	round.js(`document.querySelector("#sign [data-abrasive]").value = ""`)
	round.signs(operator)
	round.done("Round the edges: signed")
	if got := asks[string](round, `localStorage.getItem("usual")`); strings.Contains(got, "BELT") {
		h.t.Errorf("the tablet keeps %s though the belt on record was signed", got)
	}
}

// discs: the disc on record at a bench has touched stainless, so the bench is
// stopped until somebody says which one is mounted now.
func (h *house) discs() {
	plates := h.palletOfItem("O-4101", "LP-60")
	lot := h.lotOf(plates, "LP-60")
	sign := h.signOff(plates, "edge-round", lot)
	sign.Abrasive = "DISC-W1"
	h.at("ROUND-SS").does(sign, operator)

	posts := h.separated("N-7013", "BAR-L40", "TUBE-1", "BENCH-2", "A")["PO-1900"]
	pallet := string(h.palletOf(posts.ID))
	bench := h.tablet("WELD-1")
	bench.takes(pallet)
	bench.no("the bench's own disc touched stainless", ".stops h1", "DISC-W1 has touched stainless; it may never touch aluminium.", "", func() { bench.scans(pallet) })
	bench.click(`.stops [data-open="abrasive"]`)
	bench.look()
	bench.types("#abrasive [data-abrasive]", "disc-w7")
	bench.leaves(func() { bench.click("#abrasive button.main") })
	bench.ready("Round the edges by hand", job{})
	bench.sees("#sign .mounted", "Mounted: DISC-W7, no metal on record yet.")
	bench.signs("P13")
	bench.done("Round the edges by hand: signed")
	if got := h.touched("DISC-W7"); !slices.Equal(got, []core.Metal{core.Aluminium}) {
		h.t.Errorf("the disc that was named has touched %v", got)
	}
}
