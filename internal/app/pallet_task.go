package app

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"tagalong/internal/core"
)

// Task is one thing a station may do with lots of a pallet: the same stage for
// all of them, signed together.
type Task struct {
	Stage  core.Stage
	Title  string
	Lots   []LotView // those that may go on
	Stops  []LotView // those that wait for the same stage and are stopped
	Begun  bool      // somebody started it on one of the lots
	Inputs []InputChoice
	HandTo []StationChoice // stations that do what comes after
}

// Key tells the tasks of a pallet apart.
func (t Task) Key() string { return string(t.Stage.Name) }

// Parts counts the parts of the lots that may go on.
func (t Task) Parts() int {
	n := 0
	for _, l := range t.Lots {
		n += l.Lot.Qty
	}
	return n
}

// Measured reports whether a lot has a check that is measured.
func (t Task) Measured() bool {
	return slices.ContainsFunc(t.Lots, func(l LotView) bool {
		return slices.ContainsFunc(l.Step.Checks, func(c core.Characteristic) bool { return c.Kind == core.Measure })
	})
}

// InputChoice is a kind of thing a step uses up, with the batches that may be
// used today.
type InputChoice struct {
	Kind    string
	Batches []core.Batch
}

// GaugeChoice is a gauge a characteristic may be read with.
type GaugeChoice struct {
	ID, Name string
	DueBy    core.Date
}

func tasksOf(w core.World, lots []LotView) []Task {
	var out []Task
	for _, l := range lots {
		if !l.Here || l.Ended {
			continue
		}
		i := slices.IndexFunc(out, func(t Task) bool { return t.Stage.Name == l.Step.Stage })
		if i < 0 {
			out = append(out, Task{Stage: l.Stage, Title: l.Title})
			i = len(out) - 1
		}
		t := &out[i]
		if l.Refusal != nil {
			t.Stops = append(t.Stops, l)
			continue
		}
		t.Lots = append(t.Lots, l)
		t.Begun = t.Begun || l.Lot.Started != nil
	}
	for i := range out {
		t := &out[i]
		t.Inputs = inputsOf(w, *t)
		t.HandTo = handTo(w.Book, *t)
	}
	// What can be done comes before what is stopped.
	slices.SortStableFunc(out, func(a, b Task) int { return min(len(b.Lots), 1) - min(len(a.Lots), 1) })
	return out
}

// inputsOf lists, for each kind of input the stage asks, the batches that have
// not run out and, for powder, are of a colour that is asked.
func inputsOf(w core.World, t Task) []InputChoice {
	today := core.DateOf(inZone(w.Now, w.Book))
	var out []InputChoice
	for _, kind := range t.Stage.Inputs {
		c := InputChoice{Kind: kind}
		for _, b := range w.Book.Batches {
			if b.Kind != kind || b.Expires.Before(today) || !suits(b, t.Lots) {
				continue
			}
			c.Batches = append(c.Batches, b)
		}
		slices.SortFunc(c.Batches, func(a, b core.Batch) int {
			if a.Expires != b.Expires {
				return strings.Compare(string(a.Expires), string(b.Expires))
			}
			return strings.Compare(a.Batch, b.Batch)
		})
		out = append(out, c)
	}
	return out
}

// suits reports whether a batch's colour is one the lots ask for. A batch
// without a colour suits all.
func suits(b core.Batch, lots []LotView) bool {
	if b.Colour == "" {
		return true
	}
	return slices.ContainsFunc(lots, func(l LotView) bool {
		want := colourOf(l.Revision, l.Step)
		return want == "" || want == b.Colour
	})
}

// Gauges lists the gauges a characteristic may be read with today, those whose
// calibration ends first in front, so that they are used while they may.
func Gauges(b *core.Book, c core.Characteristic, now time.Time) []GaugeChoice {
	var out []GaugeChoice
	for _, g := range b.Instruments {
		if c.Instrument == "" || g.Kind != c.Instrument || g.DueBy.Before(core.DateOf(now)) {
			continue
		}
		out = append(out, GaugeChoice{g.ID, g.Name, g.DueBy})
	}
	slices.SortFunc(out, func(a, b GaugeChoice) int {
		if a.DueBy != b.DueBy {
			return strings.Compare(string(a.DueBy), string(b.DueBy))
		}
		return strings.Compare(a.ID, b.ID)
	})
	return out
}

// Overdue lists the gauges of the kind a characteristic asks whose calibration
// has ended, by id: a person who used one must find it in order to be told.
func Overdue(b *core.Book, c core.Characteristic, now time.Time) []GaugeChoice {
	var out []GaugeChoice
	for _, g := range b.Instruments {
		if c.Instrument != "" && g.Kind == c.Instrument && g.DueBy.Before(core.DateOf(now)) {
			out = append(out, GaugeChoice{g.ID, g.Name, g.DueBy})
		}
	}
	slices.SortFunc(out, func(a, b GaugeChoice) int { return strings.Compare(a.ID, b.ID) })
	return out
}

func handTo(b *core.Book, t Task) []StationChoice {
	var stages []core.StageName
	for _, l := range t.Lots {
		if next, ok := stepAfter(b, l.Lot, l.Step); ok && !slices.Contains(stages, next.Stage) {
			stages = append(stages, next.Stage)
		}
	}
	return stationsDoing(b, stages, t.Lots, "")
}

// LimitText says what a measured characteristic must be: "0.5 mm or more",
// "90 ± 0.5°", "59 to 61 µm".
func LimitText(c core.Characteristic) string {
	num := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	unit := c.Unit
	if unit != "" && unit != "°" {
		unit = "\u00a0" + unit
	}
	switch {
	case c.Lower != nil && c.Upper != nil && c.Nominal != nil && near(*c.Nominal-*c.Lower, *c.Upper-*c.Nominal):
		return num(*c.Nominal) + " ± " + num(round(*c.Upper-*c.Nominal)) + unit
	case c.Lower != nil && c.Upper != nil && c.Nominal != nil:
		return num(*c.Nominal) + unit + ", " + num(*c.Lower) + " to " + num(*c.Upper)
	case c.Lower != nil && c.Upper != nil:
		return num(*c.Lower) + " to " + num(*c.Upper) + unit
	case c.Lower != nil:
		return num(*c.Lower) + unit + " or more"
	case c.Upper != nil:
		return num(*c.Upper) + unit + " or less"
	case c.Nominal != nil:
		return num(*c.Nominal) + unit
	}
	return c.Unit
}

func near(a, b float64) bool { return round(a) == round(b) }

// round takes away what binary arithmetic adds to a difference of decimals.
func round(v float64) float64 {
	r, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 10, 64), 64)
	return r
}
