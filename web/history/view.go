package history

import (
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

type view struct {
	head ui.OfficeHead
	app.HistoryPage
	path string
	zone string
	days []day
}

// day is what happened on one day, refusals between the events.
type day struct {
	name    string
	entries []entry
}

// entry is an event or a refusal.
type entry struct {
	at      time.Time
	event   *app.HistoryEvent
	refusal *app.HistoryRefusal
}

func newView(p endpoint.Page, h app.HistoryPage) view {
	v := view{HistoryPage: h, path: address(h), zone: h.AsOf.Format("MST")}
	v.head = ui.OfficeHead{
		Title: "History of " + strings.ToLower(h.Title[:1]) + h.Title[1:], Shop: p.Shop, Person: p.Caller.Name, Demo: p.Demo,
		Scripts: []string{"panels.js", "pad.js", "desk.js"},
	}
	var all []entry
	for i := range h.Events {
		all = append(all, entry{at: h.Events[i].Recorded, event: &h.Events[i]})
	}
	for i := range h.Refusals {
		all = append(all, entry{at: h.Refusals[i].At, refusal: &h.Refusals[i]})
	}
	slices.SortStableFunc(all, func(a, b entry) int { return a.at.Compare(b.at) })
	for _, e := range all {
		name := e.at.Format("Monday 2 January 2006")
		if len(v.days) == 0 || v.days[len(v.days)-1].name != name {
			v.days = append(v.days, day{name: name})
		}
		d := &v.days[len(v.days)-1]
		d.entries = append(d.entries, e)
	}
	return v
}

// address is the page's own, which .json and .csv are put after.
func address(h app.HistoryPage) string {
	switch {
	case h.Of.Order != "":
		return "/history/order/" + url.PathEscape(h.Of.Order)
	case h.Of.Lot != "":
		return "/history/lot/" + string(h.Of.Lot)
	}
	return "/history/" + string(h.Of.Pallet)
}

// travellers is where the traveller of the pallet, or those of the order, are
// shown and printed again; empty while the pallet has none.
func (v view) travellers() string {
	switch {
	case v.Of.Order != "":
		return "/orders/" + url.PathEscape(v.Of.Order) + "/travellers"
	case v.Of.Pallet == "" || !slices.ContainsFunc(v.Events, func(e app.HistoryEvent) bool {
		return e.Kind == core.EvPrinted && slices.Contains(e.Pallets, v.Of.Pallet)
	}):
		return ""
	}
	return "/pallets/" + string(v.Of.Pallet) + "/traveller.html?back=" + url.QueryEscape(v.path)
}

func (v view) summary() string {
	text := ui.Count(len(v.Events), "entry", "entries")
	if n := len(v.Refusals); n > 0 {
		text += " and " + ui.Count(n, "refusal")
	}
	return text + ", as of " + v.AsOf.Format("15:04:05, 2 January 2006")
}

// cut says what is shown where there is more than that.
func (v view) cut() string {
	var of []string
	if v.More {
		of = append(of, "the latest "+ui.Count(len(v.Events), "entry", "entries"))
	}
	if v.MoreRefusals {
		of = append(of, "the latest "+ui.Count(len(v.Refusals), "refusal"))
	}
	return "These are " + strings.Join(of, " and ") + "."
}

// whole: one page can show all of it.
func (v view) whole() bool {
	return len(v.Events) < app.HistoryLimit && len(v.Refusals) < app.HistoryLimit
}

// when is the time of an entry; both times where the device's differs from the
// server's by more than a minute, or the work was recorded out of touch.
func (e entry) when() string {
	if e.event == nil {
		return e.at.Format("15:04:05")
	}
	gap := e.event.Recorded.Sub(e.event.Happened)
	if e.event.Offline || gap > time.Minute || gap < -time.Minute {
		return e.event.Happened.Format("15:04") + ", recorded " + e.event.Recorded.Format("15:04:05")
	}
	return e.at.Format("15:04:05")
}

func readingText(r app.HistoryReading) string {
	name := r.Text
	if name == "" {
		name = r.Characteristic
	}
	text := name + ": "
	if r.Value != nil {
		text += strings.TrimSpace(ui.Number(*r.Value) + " " + r.Unit)
		if lim := limits(r); lim != "" {
			text += " (asked " + lim + ")"
		}
	}
	switch {
	case r.Met && r.Value == nil:
		text += "met"
	case !r.Met:
		text = strings.TrimSpace(text + " not met")
	}
	if r.Instrument != "" {
		text += ", gauge " + r.Instrument
	}
	return text
}

func limits(r app.HistoryReading) string {
	switch {
	case r.Lower != nil && r.Upper != nil:
		return ui.Number(*r.Lower) + " to " + ui.Number(*r.Upper)
	case r.Lower != nil:
		return "at least " + ui.Number(*r.Lower)
	case r.Upper != nil:
		return "at most " + ui.Number(*r.Upper)
	}
	return ""
}

func signature(s app.HistorySignature) string {
	if s.Meaning == "" {
		return s.Name
	}
	return s.Name + ", " + string(s.Meaning)
}

// seen is the number of the print that a signer saw.
func seen(e app.HistoryEvent) string {
	for _, s := range e.Signed {
		if s.PrintSeen > 0 {
			return "saw print " + strconv.Itoa(s.PrintSeen)
		}
	}
	return ""
}

func inputs(in []core.Batch) string {
	var out []string
	for _, b := range in {
		text := b.Kind + " " + b.Batch
		if b.Colour != "" {
			text += " (" + b.Colour + ")"
		}
		out = append(out, text)
	}
	return strings.Join(out, "; ")
}

// takeable: the event has a way back and was not taken back yet. Whether the
// parts have moved on is for the core to say.
func takeable(e app.HistoryEvent) bool {
	return e.CorrectedBy == "" && slices.Contains([]core.EventKind{
		core.EvSigned, core.EvDivided, core.EvGathered, core.EvReturned, core.EvAssembled, core.EvBegun,
		core.EvRecounted, core.EvOwnerChanged, core.EvProblemReported, core.EvSeparated,
	}, e.Kind)
}

// signers is how many must sign to take an event back: two for a release.
func signers(e app.HistoryEvent) string {
	for _, s := range e.Signed {
		if s.Meaning == core.MeantReleased {
			return "2"
		}
	}
	return "1"
}

// shortLot is a lot's number, short enough for a column.
func shortLot(l core.LotID) string {
	command, n, ok := strings.Cut(string(l), "/")
	if !ok || len(command) <= 8 {
		return string(l)
	}
	return "…" + command[len(command)-4:] + "/" + n
}

func lotLine(l app.HistoryLot) string {
	text := ""
	if l.Order != "" {
		text = "order " + l.Order + "/" + strconv.Itoa(l.Line)
	} else {
		text = "stock"
	}
	return text
}

func both(one, other string) string {
	if one == "" || other == "" {
		return one + other
	}
	return one + ", " + other
}
