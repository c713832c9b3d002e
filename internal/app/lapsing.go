package app

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// Lapsing is a list of things that hold until a day: those that still do, what
// lapses first at the top, and those that have lapsed, the latest at the top.
type Lapsing[T any] struct {
	Today        core.Date
	Hold, Lapsed []T
}

// lapsing parts a list by its last days; without one, a thing holds for good.
func lapsing[T any](all []T, today core.Date, last func(T) core.Date, key func(T) string) Lapsing[T] {
	out := Lapsing[T]{Today: today}
	for _, x := range all {
		if last(x).Before(today) {
			out.Lapsed = append(out.Lapsed, x)
		} else {
			out.Hold = append(out.Hold, x)
		}
	}
	forGood := func(d core.Date) core.Date { return cmp.Or(d, "9999-12-31") }
	slices.SortFunc(out.Hold, func(a, b T) int {
		return cmp.Or(cmp.Compare(forGood(last(a)), forGood(last(b))), cmp.Compare(key(a), key(b)))
	})
	slices.SortFunc(out.Lapsed, func(a, b T) int {
		return cmp.Or(cmp.Compare(last(b), last(a)), cmp.Compare(key(a), key(b)))
	})
	return out
}

// bookToday reads the catalogue, and what day it is in the shop.
func (s *Service) bookToday(ctx context.Context) (*core.Book, core.Date, error) {
	book, err := s.Store.Book(ctx)
	if err != nil {
		return nil, "", fmt.Errorf("read the catalogue: %w", err)
	}
	zone := book.Zone
	if zone == nil {
		zone = time.UTC
	}
	return book, core.DateOf(s.Clock().In(zone)), nil
}

// dayBefore is the last day of what is ended today: the rules let a thing be
// used on its last day, so that what is withdrawn had its last one yesterday.
func dayBefore(d core.Date) core.Date { return core.DateOf(d.Time(time.UTC).AddDate(0, 0, -1)) }

// isPast reports whether a day that was typed is over; what is no day is left to
// the reader of the rows.
func isPast(typed string, today core.Date) bool {
	d := core.Date(strings.TrimSpace(typed))
	return !d.Time(time.UTC).IsZero() && d.Before(today)
}

// Gauges lists the shop's gauges by the last day of their calibration.
func (s *Service) Gauges(ctx context.Context, by Caller) (Lapsing[core.Instrument], error) {
	if err := officeOnly(by); err != nil {
		return Lapsing[core.Instrument]{}, err
	}
	book, today, err := s.bookToday(ctx)
	if err != nil {
		return Lapsing[core.Instrument]{}, err
	}
	return lapsing(valuesOf(book.Instruments), today, func(g core.Instrument) core.Date { return g.DueBy },
		func(g core.Instrument) string { return g.ID }), nil
}

func valuesOf[K comparable, V any](m map[K]V) []V {
	var out []V
	for _, v := range m {
		out = append(out, v)
	}
	return out
}

// TypedGauge is a gauge as it was typed.
type TypedGauge struct{ ID, Kind, Name, DueBy string }

func (g TypedGauge) rows() intake.Typed {
	return intake.Typed{"instruments.csv": {{"instrument": g.ID, "kind": g.Kind, "name": g.Name, "due_by": g.DueBy}}}
}

// AddGauge stores a gauge the shop has not got.
func (s *Service) AddGauge(ctx context.Context, by Caller, g TypedGauge) (Slips, error) {
	if err := officeOnly(by); err != nil {
		return nil, err
	}
	book, today, err := s.bookToday(ctx)
	if err != nil {
		return nil, err
	}
	g.ID = strings.TrimSpace(g.ID)
	if _, there := book.Instruments[g.ID]; there {
		return Slips{typedSlip("instruments.csv", 0, "instrument", "gauge "+g.ID+", which the shop has", "a number of its own")}, nil
	}
	if isPast(g.DueBy, today) {
		return Slips{typedSlip("instruments.csv", 0, "due_by", "a calibration that has lapsed", "a day to come: nothing is measured with a lapsed gauge")}, nil
	}
	return s.storeTyped(ctx, by, "gauges page", g.rows())
}

// CalibrateGauge notes that a gauge was calibrated again, and until when.
func (s *Service) CalibrateGauge(ctx context.Context, by Caller, id, until string) (Slips, error) {
	return s.changeGauge(ctx, by, id, func(core.Date) string { return until })
}

// WithdrawGauge ends a gauge: from today nothing is measured with it.
func (s *Service) WithdrawGauge(ctx context.Context, by Caller, id string) (Slips, error) {
	return s.changeGauge(ctx, by, id, func(today core.Date) string { return string(dayBefore(today)) })
}

func (s *Service) changeGauge(ctx context.Context, by Caller, id string, until func(today core.Date) string) (Slips, error) {
	if err := officeOnly(by); err != nil {
		return nil, err
	}
	book, today, err := s.bookToday(ctx)
	if err != nil {
		return nil, err
	}
	g, there := book.Instruments[id]
	if !there {
		return Slips{typedSlip("instruments.csv", 0, "due_by", "gauge "+id+", which the shop has not got", "a gauge of the list")}, nil
	}
	return s.storeTyped(ctx, by, "gauges page", TypedGauge{g.ID, g.Kind, g.Name, until(today)}.rows())
}

// Batches lists the shop's batches of powder, filler and the like by the last
// day they may be used.
func (s *Service) Batches(ctx context.Context, by Caller) (Lapsing[core.Batch], error) {
	if err := officeOnly(by); err != nil {
		return Lapsing[core.Batch]{}, err
	}
	book, today, err := s.bookToday(ctx)
	if err != nil {
		return Lapsing[core.Batch]{}, err
	}
	return lapsing(valuesOf(book.Batches), today, func(b core.Batch) core.Date { return b.Expires },
		func(b core.Batch) string { return b.Batch }), nil
}

// BatchKinds are the kinds of batch that a stage uses up or the shop has.
func BatchKinds(b *core.Book) []string {
	var out []string
	for _, st := range b.Table.Stages {
		out = append(out, st.Inputs...)
	}
	for _, x := range b.Batches {
		out = append(out, x.Kind)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// TypedBatch is a batch as it was typed.
type TypedBatch struct{ Batch, Kind, Colour, Expires string }

func (b TypedBatch) rows() intake.Typed {
	return intake.Typed{"batches.csv": {{"batch": b.Batch, "kind": b.Kind, "colour": b.Colour, "expires": b.Expires}}}
}

// AddBatch stores a batch the shop has not got. A powder needs its colour, or
// no coat step would take it for the drawing's.
func (s *Service) AddBatch(ctx context.Context, by Caller, b TypedBatch) (Slips, error) {
	if err := officeOnly(by); err != nil {
		return nil, err
	}
	book, today, err := s.bookToday(ctx)
	if err != nil {
		return nil, err
	}
	b.Batch = strings.TrimSpace(b.Batch)
	_, there := book.Batches[b.Batch]
	switch {
	case there:
		return Slips{typedSlip("batches.csv", 0, "batch", "batch "+b.Batch+", which the shop has", "a number of its own")}, nil
	case b.Kind == "powder" && strings.TrimSpace(b.Colour) == "":
		return Slips{typedSlip("batches.csv", 0, "colour", "a powder without its colour", "the colour, named as the drawings name it")}, nil
	case isPast(b.Expires, today):
		return Slips{typedSlip("batches.csv", 0, "expires", "a batch that has expired", "a day to come, or nothing where it keeps")}, nil
	}
	return s.storeTyped(ctx, by, "batches page", b.rows())
}

// WithdrawBatch ends a batch, used up or not to be used: from today no step
// takes it.
func (s *Service) WithdrawBatch(ctx context.Context, by Caller, no string) (Slips, error) {
	if err := officeOnly(by); err != nil {
		return nil, err
	}
	book, today, err := s.bookToday(ctx)
	if err != nil {
		return nil, err
	}
	b, there := book.Batches[no]
	if !there {
		return Slips{typedSlip("batches.csv", 0, "expires", "batch "+no+", which the shop has not got", "a batch of the list")}, nil
	}
	return s.storeTyped(ctx, by, "batches page", TypedBatch{b.Batch, b.Kind, b.Colour, string(dayBefore(today))}.rows())
}
