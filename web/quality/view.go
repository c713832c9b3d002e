package quality

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

type view struct {
	head ui.OfficeHead
	app.QualityPage
}

func newView(p endpoint.Page, q app.QualityPage) view {
	return view{QualityPage: q, head: ui.OfficeHead{
		Title: "Quality", Shop: p.Shop, Person: p.Caller.Name, Demo: p.Demo, Nav: ui.OfficeNav("/quality"),
		Scripts: []string{"panels.js", "pad.js", "desk.js"},
	}}
}

// choice is one thing that may become of a problem's parts.
type choice struct {
	value   core.Disposition
	text    string
	signers string
}

var choices = []choice{
	{core.DisposeRework, "Rework", "1"},
	{core.DisposeUseAsIs, "Use as it is", "2"},
	{core.DisposeScrap, "Scrap", "1"},
	{core.DisposeRemake, "Scrap and make again", "1"},
}

// scope is one thing that a hold may stop.
type scope struct {
	value core.HoldScope
	text  string
	hint  string
}

var scopes = []scope{
	{core.HoldPallet, "a pallet", "its code, eight characters"},
	{core.HoldLot, "a lot", "its number, as the history shows it"},
	{core.HoldOrder, "an order", "its number"},
	{core.HoldItem, "an item", "item@revision, such as HP-80@B"},
	{core.HoldHeat, "a heat", "the heat number on the certificate"},
	{core.HoldBatch, "a batch", "powder, filler or bath batch"},
	{core.HoldGauge, "all a gauge measured", "the gauge's number"},
}

func parts(p app.QualityProblem) string { return app.Named(p.Qty, p.Name) }

func found(p app.QualityProblem) string {
	text := "found"
	if p.Stage.Site {
		return "sent back from " + cmp.Or(p.Station, "the site") + ", by " + p.By
	}
	if p.Stage.Name != "" {
		text += " at " + app.StageNoun(p.Stage)
	}
	if p.Station != "" {
		text += ", " + p.Station
	}
	return text + ", by " + p.By
}

func owner(o core.Owner) string {
	if o.Stock() {
		return "stock"
	}
	return "order " + o.Order
}

func (v view) age(p app.QualityProblem) string { return ui.Age(p.At, v.AsOf) }

func step(s app.QualityStep) string { return strconv.Itoa(s.No) + "  " + s.Title }

// joins reports whether late components join a unit in a rework.
func joins(r core.Route) bool {
	return slices.ContainsFunc(r.Steps, func(s core.Step) bool { return s.Stage == "join-late" })
}

// changeText names a component of a unit: "wall stiffener, 1 inside, heat 4711".
func changeText(p app.LatePart) string {
	out := p.Name + ", " + strconv.Itoa(p.Qty) + " inside"
	if p.Heat != "" {
		out += ", heat " + p.Heat
	}
	return out
}

func routeText(r core.Route) string {
	return strings.ToLower(strings.ReplaceAll(r.Name, "-", " ")) + ", " + ui.Count(len(r.Steps), "step")
}

// factText is a fact's name in plain words.
func factText(name string) string { return strings.ReplaceAll(name, "-", " ") }

// missed says on what parts were missed, when, where and by whom.
func missed(v view, m app.MissingRow) string {
	text := "missed on " + ui.Spaced(m.From) + ", " + ui.Moment(m.At, v.AsOf)
	for _, x := range []string{m.Station, m.Who} {
		if x != "" {
			text += ", " + x
		}
	}
	return text
}

// waiting says how much waits for a decision.
func (v view) waiting() string {
	return ui.Count(len(v.Problems), "problem") + " and " + ui.Count(len(v.Holds), "hold") + " open, as of " + v.AsOf.Format("15:04:05")
}
