package station

import (
	"cmp"
	"net/http"
	"slices"
	"strconv"
	"time"

	"tagalong/internal/app"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

// kitLines is how many lines of a kit fit a page, each with its batches.
const kitLines = 6

// kitPages are a kit's lines, what is short or may not be used first, in pages of
// about the same length.
func (v unitView) kitPages() [][]app.BuildLine {
	lines := slices.Clone(v.unit.Lines)
	slices.SortStableFunc(lines, func(a, b app.BuildLine) int { return cmp.Compare(urgent(b), urgent(a)) })
	pages := (len(lines) + kitLines - 1) / kitLines
	if pages == 0 {
		return nil
	}
	return slices.Collect(slices.Chunk(lines, (len(lines)+pages-1)/pages))
}

// urgent orders the lines of a kit: missing, then with something that may not be
// used, then the rest.
func urgent(l app.BuildLine) int {
	switch {
	case l.Short() > 0:
		return 2
	case l.Gathered < l.Asked && slices.ContainsFunc(l.Batches, refusedBatch):
		return 1
	}
	return 0
}

func refusedBatch(b app.BuildBatch) bool { return b.Refused.Title != "" }

// kitPage is the page of lines that is shown, and the number of the next one.
func (v unitView) kitPage() (lines []app.BuildLine, next int) {
	pages := v.kitPages()
	if len(pages) == 0 {
		return nil, 0
	}
	at := v.lines % len(pages)
	return pages[at], (at + 1) % len(pages)
}

func (v unitView) linesLink(n int) string { return v.self() + "&lines=" + strconv.Itoa(n) }

// batchUsed says so many of which batch, and the last day it may be used.
func batchUsed(b app.BuildBatch, now time.Time) string {
	out := strconv.Itoa(b.Qty)
	if b.Gathered {
		out += " gathered"
	} else {
		out += " on " + ui.Spaced(string(b.Pallet))
	}
	if b.Batch != "" {
		out += ", batch " + b.Batch
	}
	if b.Expires != "" {
		out += ", good to " + ui.Day(b.Expires, now)
	}
	return out
}

// batchLines is how many batches of a line are named.
const batchLines = 3

// batchesShown are those that may not be used first, then the rest as they would
// be gathered; of a line that has all it takes, what is in it.
func batchesShown(l app.BuildLine) []app.BuildBatch {
	out := batchesOf(l)
	slices.SortStableFunc(out, func(a, b app.BuildBatch) int {
		switch {
		case refusedBatch(a) == refusedBatch(b):
			return 0
		case refusedBatch(a):
			return -1
		}
		return 1
	})
	return out[:min(batchLines, len(out))]
}

func batchesOf(l app.BuildLine) []app.BuildBatch {
	out := slices.Clone(l.Batches)
	if l.Gathered >= l.Asked {
		out = slices.DeleteFunc(out, func(b app.BuildBatch) bool { return !b.Gathered })
	}
	return out
}

func batchesLeft(l app.BuildLine) int { return len(batchesOf(l)) - batchLines }

type unitsView struct {
	head ui.StationHead
	page app.StationPage
	now  time.Time
	from int
}

// unitsListed is how many units a page of them holds.
const unitsListed = 12

func (v unitsView) shown() []app.BuildView {
	return v.page.Builds[v.from:min(v.from+unitsListed, len(v.page.Builds))]
}

func (v unitsView) more() int { return max(0, len(v.page.Builds)-v.from-unitsListed) }

func (p pages) units(w http.ResponseWriter, r *http.Request, st app.StationPage) error {
	from, _ := strconv.Atoi(r.URL.Query().Get("from"))
	return endpoint.Render(w, r, unitsPage(unitsView{
		head: headOf(r, st.Station, unitsTitle(st.Builds)), page: st, now: endpoint.PageOf(r).Now, from: min(max(from, 0), len(st.Builds)),
	}))
}

// unitsTitle heads a list of units: at a dock they are kits.
func unitsTitle(units []app.BuildView) string {
	if len(units) > 0 && !slices.ContainsFunc(units, func(b app.BuildView) bool { return !b.Kit() }) {
		return "Kits to make up"
	}
	return "Units to build"
}
