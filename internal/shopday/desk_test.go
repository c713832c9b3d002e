package shopday

import (
	"fmt"

	"tagalong/internal/browsertest"
	"tagalong/internal/core"
)

// desk is a browser of the office in which somebody has signed in.
func (h *house) desk(p core.PersonID) *screen {
	h.t.Helper()
	s := h.device("desk of "+string(p), browsertest.Desk)
	s.open("/signin")
	s.types("input[name=badge]", s.badge(p)+"\r")
	s.leaves(func() { s.types("input[name=pin]", pin+"\r") })
	s.sees("header a[href='/sign-out']", h.book().People[p].Name)
	return s
}

// finds types into the find box and returns the one sentence it answers with.
func (s *screen) finds(text string) string {
	s.t.Helper()
	s.open("/find")
	s.leaves(func() { s.types("form.ask input[name=q]", text+"\r") })
	return s.said("#says")
}

// codeFor has an admin make the one-time code of a station, and reads it.
func (s *screen) codeFor(station core.StationID) string {
	s.t.Helper()
	s.open("/tablets")
	s.chooses("select[name=station]", string(station))
	s.leaves(func() { s.click(`form[action="/tablets"] button`) })
	return s.said(".figure")
}

// last is the newest event on record.
func (h *house) last(kind core.EventKind) core.Event {
	h.t.Helper()
	var text []byte
	must(h.t, h.sql.QueryRow(h.t.Context(), "SELECT payload FROM event ORDER BY seq DESC LIMIT 1").Scan(&text))
	e := decoded[core.Event](h.t, string(text))
	if e.Kind != kind {
		h.t.Fatalf("the newest event is %s, want %s", e.Kind, kind)
	}
	return e
}

// named gives a code a name for the rest of the day, as the history written by
// hand calls it.
func (h *house) named(name string, code string) string {
	h.t.Helper()
	if was, ok := h.codes[code]; ok {
		h.t.Fatalf("%s is %s already, and now %s", code, was, name)
	}
	h.codes[code] = name
	return code
}

// palletOfItem is the pallet that carries an item of an order now.
func (h *house) palletOfItem(order string, item core.ItemID) core.PalletCode {
	h.t.Helper()
	w, err := h.store.LoadOrder(h.t.Context(), order)
	must(h.t, err)
	for _, l := range w.State.Lots {
		if l.Item.Item == item && l.Owner.Order == order && l.Qty > 0 && l.Place.Kind == core.OnPallet {
			return core.PalletCode(l.Place.Ref)
		}
	}
	h.t.Fatalf("%s of %s is on no pallet", item, order)
	return ""
}

// waiting says what each item on a pallet waits for.
func (h *house) waiting(p core.PalletCode) map[string]string {
	h.t.Helper()
	out := map[string]string{}
	for _, l := range h.on(p) {
		next := core.NextSteps(h.book(), l)
		stage := "the end"
		if len(next) > 0 {
			stage = string(next[0].Stage)
		}
		out[fmt.Sprintf("%d %s of %s", l.Qty, l.Item.Item, l.Owner.Order)] = stage
	}
	return out
}
