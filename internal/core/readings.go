package core

import (
	"slices"
	"strconv"
)

// readings judges a step's check: every characteristic answered, met, inside
// its limits, and read with a gauge whose calibration held.
func (d *deciding) readings(l Lot, step Step, given []CheckReading) *Refusal {
	for _, c := range step.Checks {
		if p, ok := PackingOf(c.ID); ok {
			if r := d.packed(l, p, given); r != nil {
				return r
			}
			continue
		}
		i := slices.IndexFunc(given, func(g CheckReading) bool { return g.Characteristic == c.ID })
		if i < 0 {
			if c.Optional {
				continue
			}
			return refuse("check-missing", "check", c.Text)
		}
		g := given[i]
		if c.Kind == Measure {
			if r := d.measured(l, c, g); r != nil {
				return r
			}
			continue
		}
		if !g.Met && !c.Optional {
			if r := d.stop(refuse("check-not-met", "check", c.Text)); r != nil {
				return r
			}
		}
		d.ev.Checks = append(d.ev.Checks, Reading{Lot: l.ID, Characteristic: c.ID, Met: g.Met})
	}
	for _, g := range given {
		if !slices.ContainsFunc(step.Checks, func(c Characteristic) bool { return c.ID == g.Characteristic }) {
			return refuse("check-unknown", "check", g.Characteristic)
		}
	}
	return nil
}

func (d *deciding) measured(l Lot, c Characteristic, g CheckReading) *Refusal {
	if g.Value == nil {
		return refuse("check-missing", "check", c.Text)
	}
	if c.Instrument != "" {
		in, ok := d.w.Book.Instruments[g.Instrument]
		if !ok || in.Kind != c.Instrument {
			return refuse("gauge-missing", "check", c.Text, "kind", c.Instrument)
		}
		if in.DueBy.Before(d.day()) {
			if r := d.stop(refuse("gauge-overdue", "gauge", in.Name, "on", string(in.DueBy))); r != nil {
				return r
			}
		}
		d.emit(Effect{Gauged: &Gauged{Lot: l.ID, Instrument: in.ID, At: d.at}})
	}
	if !c.Meets(*g.Value) {
		r := refuse("reading-outside", "check", c.Text, "value", number(*g.Value), "limits", limits(c), "unit", c.Unit)
		if r := d.stop(r); r != nil {
			return r
		}
	}
	d.ev.Checks = append(d.ev.Checks, Reading{Lot: l.ID, Characteristic: c.ID, Met: c.Meets(*g.Value), Value: g.Value,
		Unit: c.Unit, Instrument: g.Instrument})
	return nil
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func limits(c Characteristic) string {
	switch {
	case c.Lower != nil && c.Upper != nil:
		return number(*c.Lower) + " to " + number(*c.Upper)
	case c.Lower != nil:
		return number(*c.Lower) + " or more"
	case c.Upper != nil:
		return number(*c.Upper) + " or less"
	}
	return "any"
}

// readInputs checks the batches a stage uses up: one of every kind it asks,
// known, in date.
func (d *deciding) readInputs(stage Stage, numbers []string) *Refusal {
	d.inputs = []Batch{}
	for _, n := range numbers {
		b, ok := d.w.Book.Batches[n]
		if !ok {
			return refuse("batch-unknown", "batch", n)
		}
		if b.Expires.Before(d.day()) {
			if r := d.stop(refuse("batch-expired", "batch", n, "on", string(b.Expires))); r != nil {
				return r
			}
		}
		d.inputs = append(d.inputs, b)
	}
	for _, kind := range stage.Inputs {
		if d.batchOf(kind) == "" {
			return refuse("batch-missing", "kind", kind)
		}
	}
	d.ev.Inputs = d.inputs
	return nil
}

// batchOf is the batch of a kind among the inputs.
func (d *deciding) batchOf(kind string) string {
	for _, b := range d.inputs {
		if b.Kind == kind {
			return b.Batch
		}
	}
	return ""
}
