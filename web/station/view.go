package station

import (
	"net/http"
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

type restView struct {
	head ui.StationHead
	page app.StationPage
	now  time.Time
	from int

	setupLeft bool // the person signed in is setting the shop up
}

// here is the part of the list that fits the page, which is read from there on.
func (v restView) here() []app.PalletCard { return v.page.Here[:min(onPage, len(v.page.Here))] }

// more is how many follow.
func (v restView) more() int { return max(0, v.page.HereAll-v.from-onPage) }

// units is what fits of the units to build.
func (v restView) units() []app.BuildView { return v.page.Builds[:min(3, len(v.page.Builds))] }

// coming is what fits beside it.
func (v restView) coming() []app.PalletCard {
	room := 6
	if n := len(v.units()); n > 0 {
		room -= n + 1
		if len(v.page.Builds) > n {
			room--
		}
	}
	if v.page.Station.Bench || v.goodsIn() {
		room--
	}
	return v.page.Coming[:min(max(room, 0), len(v.page.Coming))]
}

func (v restView) goodsIn() bool { return v.page.Station.Does("goods-in") }

// palletView is a pallet's page with the station's lists beside it.
type palletView struct {
	head    ui.StationHead
	page    app.StationPage
	pallet  app.PalletPage
	task    app.Task
	hasTask bool
	now     time.Time
	self    string // address of this page
	goOn    bool   // the stale print was looked at and waved through
	waive   string // code of the rule to be set aside under concession
	// abrasive is the belt or disc somebody says is mounted; empty: the one on record.
	abrasive string
	// slot is the slot whose sign was scanned after the pallet.
	slot string
	// to is the station whose sign was scanned after the pallet, stop what
	// handing over to it would be refused with.
	to   core.Station
	stop *core.Refusal
	// paper says that what was signed with a pen is being entered.
	paper bool
}

func newPalletView(r *http.Request, st app.StationPage, p app.PalletPage) palletView {
	v := palletView{
		head: headOf(r, st.Station, "Pallet "+ui.Spaced(string(p.Pallet.Code)), "station.js", "moves.js", "report.js", "recount.js"), page: st, pallet: p,
		now: endpoint.PageOf(r).Now, goOn: r.URL.Query().Get("go") == "on",
	}
	v.self = "/station/pallets/" + string(p.Pallet.Code)
	v.abrasive = abrasiveOf(r.URL.Query().Get("abrasive"))
	asked := url.Values{}
	if p.Print.Seen > 0 {
		asked.Set("print", strconv.Itoa(p.Print.Seen))
	}
	if v.abrasive != "" {
		asked.Set("abrasive", v.abrasive)
	}
	if len(asked) > 0 {
		v.self += "?" + asked.Encode()
	}
	v.task, v.hasTask = p.Task(r.URL.Query().Get("stage"))
	if st.Station.Store() {
		v.slot = core.SlotName(r.URL.Query().Get("slot"))
	}
	if to := core.StationID(r.URL.Query().Get("to")); to != st.Station.ID {
		v.to = st.Book.Stations[to]
	}
	v.setAside(r.URL.Query().Get("waive"))
	return v
}

// setAside takes the lots that one rule stops into the task, to be signed under
// a concession. An absolute rule is never set aside.
func (v *palletView) setAside(code string) {
	if code == "" {
		return
	}
	var stay []app.LotView
	for _, l := range v.task.Stops {
		if l.Refusal.Code != code || l.Refusal.Absolute {
			stay = append(stay, l)
			continue
		}
		v.task.Lots = append(v.task.Lots, l)
		v.waive = code
	}
	v.task.Stops = stay
}

// waiveLink leads to the task with a lot's rule set aside.
func (v palletView) waiveLink(l app.LotView) string {
	return v.taskLink(v.task) + "&waive=" + url.QueryEscape(l.Refusal.Code)
}

// touchedOnly reports whether the lots are stopped by what the belt or disc on
// record has touched, which another would not have.
func (v palletView) touchedOnly() bool {
	return len(v.task.Stops) > 0 && v.task.Stops[0].Refusal.Code == "abrasive-touched"
}

// signers is how many must sign the task.
func (v palletView) signers() string {
	if v.waive != "" || v.paper {
		return "2"
	}
	return "1"
}

// state is which face of the page is shown.
type state int

const (
	isEmpty   state = iota // nothing on it any more
	isTurned               // this station would not take it in
	isStale                // the print in hand is out of date
	isAway                 // not taken in here
	isSending              // the sign of another station was scanned
	isWork                 // lots to work on
	isStopped              // lots wait for this station and may not go on
	isBarred               // lots came for a step that may not be done yet
	isDone                 // nothing for this station to do
)

func (v palletView) state() state {
	switch p := v.pallet; {
	case p.Empty():
		return isEmpty
	case p.Turned != nil:
		return isTurned
	case p.Print.Stale() && !v.goOn:
		return isStale
	case v.to.ID != "":
		return isSending
	case !p.Here:
		return isAway
	case v.hasTask && len(v.task.Lots) > 0:
		return isWork
	case v.hasTask:
		return isStopped
	case len(v.bars()) > 0 && v.done() == nil:
		return isBarred
	}
	return isDone
}

// bars are the lots that are here for a step that may not be done yet.
func (v palletView) bars() []app.LotView {
	var out []app.LotView
	for _, l := range v.pallet.Lots {
		if l.Bar != nil {
			out = append(out, l)
		}
	}
	return out
}

// stopsBeside are the lots that may not go on at this station beside those that may.
func (v palletView) stopsBeside() []app.LotView { return slices.Concat(v.task.Stops, v.bars()) }

// done is what this station did last to the pallet; nil: not the last step of
// any lot on it.
func (v palletView) done() *app.StepDone {
	for _, l := range v.pallet.Lots {
		if l.Done != nil {
			return l.Done
		}
	}
	return nil
}

// goesTo names the stations that do what comes next.
func (v palletView) goesTo() string {
	var names []string
	for _, s := range v.pallet.Next {
		names = append(names, s.Name)
	}
	if len(names) == 0 {
		return "No station does its next step; ask the office."
	}
	return ui.Capital(ui.Either(names...)) + "."
}

// linesListed is how many lines of the table of lots fit its faces.
const linesListed = 5

// listed is the lots that fit the table, each with the line that says why it is
// stopped, if it is.
func (v palletView) listed() []app.LotView {
	lines := 0
	for i, l := range v.pallet.Lots {
		lines++
		if whyNot(l) != "" {
			lines++
		}
		if lines > linesListed && i > 0 {
			return v.pallet.Lots[:i]
		}
	}
	return v.pallet.Lots
}

// whyNot is the sentence of what stops a lot at this station; "" where nothing does.
func whyNot(l app.LotView) string {
	switch {
	case l.Refusal != nil && l.Here:
		return l.Why.Title
	case l.Bar != nil:
		return l.BarWhy.Title
	}
	return ""
}

// confirm lists the questions that were answered on the way here.
func (v palletView) confirm() string {
	switch {
	case !v.goOn || !v.pallet.Print.Stale():
		return ""
	case !v.pallet.Print.Known:
		return "print-unknown"
	}
	return "print-stale"
}

func (v palletView) code() string { return string(v.pallet.Pallet.Code) }

func (v palletView) historyLink() string { return "/history/" + v.code() }

func (v palletView) goOnLink() string {
	link := v.self + "?go=on"
	if strings.Contains(v.self, "?") {
		link = v.self + "&go=on"
	}
	if v.slot != "" {
		link += "&slot=" + url.QueryEscape(v.slot)
	}
	if v.to.ID != "" {
		link += "&to=" + url.QueryEscape(string(v.to.ID))
	}
	return link
}

// slotDone is what the page says once the pallet is where its slot was scanned.
func (v palletView) slotDone() string {
	if v.slot != "" {
		return ui.Spaced(v.code()) + " stands in slot " + v.slot
	}
	return "Taken in: " + ui.Spaced(v.code())
}

// slotNew reports whether the scanned slot is another than the pallet stands in.
func (v palletView) slotNew() bool {
	return v.slot != "" && !(v.pallet.Here && v.pallet.Pallet.Slot == v.slot)
}

func (v palletView) taskLink(t app.Task) string {
	sep := "?"
	link := v.self
	if v.goOn {
		link = v.goOnLink()
	}
	if strings.Contains(link, "?") {
		sep = "&"
	}
	return link + sep + "stage=" + url.QueryEscape(t.Key())
}

// waits says what the lots on the pallet wait for, without doubles.
func (v palletView) waits() []string {
	var out []string
	for _, l := range v.pallet.Lots {
		if !l.Ended && !slices.Contains(out, l.Title) {
			out = append(out, l.Title)
		}
	}
	return out
}

// isRelease reports whether the task's signature lets lots through a hold point.
func (v palletView) isRelease() bool { return v.task.Stage.Hold }

// putsDown reports whether good parts may be put down on other pallets as the
// task is signed.
func (v palletView) putsDown() bool {
	return v.state() == isWork && !v.paper && v.task.Stage.Name != "join-late" && v.pallet.Pallet.Kind != core.SheetCarrier
}

// signText is the main button's when all is entered.
func (v palletView) signText() string {
	if v.isRelease() {
		return "Release"
	}
	return "Sign off"
}

func stripOf(marks []app.StripMark, held bool) []ui.StripStep {
	var out []ui.StripStep
	for _, m := range marks {
		out = append(out, ui.StripStep{Name: m.Title, Mark: m.Mark, Hold: m.Hold, Done: m.Done, Current: m.Next, Held: held && m.Next})
	}
	return out
}

// units are those that could be built here of a done lot on the pallet.
func (v palletView) units() []app.BuildView {
	var out []app.BuildView
	for _, b := range v.page.Builds {
		if b.Fits() > 0 && slices.ContainsFunc(v.pallet.Lots, func(l app.LotView) bool {
			return l.Ended && l.Lot.Owner == b.Owner && slices.ContainsFunc(b.Lines, func(x app.BuildLine) bool { return x.Item == l.Lot.Item && x.Gathered < x.Asked })
		}) {
			out = append(out, b)
		}
	}
	return out
}

// passTitle heads the page of a pallet this station has nothing to do to.
func (v palletView) passTitle() string {
	if slices.ContainsFunc(v.pallet.Lots, func(l app.LotView) bool { return !l.Ended }) {
		return "Next: " + ui.List(v.waits()...)
	}
	if v.manyHeld() {
		return "Its parts are held"
	}
	return "Its parts are done"
}

// printLink is the pallet's traveller, to print, and the way back.
func (v palletView) printLink() string {
	return "/pallets/" + v.code() + "/traveller.html?back=" + url.QueryEscape(v.self)
}
