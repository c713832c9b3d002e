package shopgen

import (
	"fmt"
	"slices"
	"time"

	"tagalong/internal/core"
)

// job is a pallet on its way: every lot goes on until its stop, then the pallet
// goes to a last station.
type job struct {
	pallet core.PalletCode
	stop   func(core.Lot, core.Step) bool // true: this step is not done; nil: none
	to     core.StationID                 // empty: stays
	onWay  bool                           // handed over to it and not taken in
	flaws  map[core.StageName][]flaw
}

// before stops at the first step of a stage.
func before(name core.StageName) func(core.Lot, core.Step) bool {
	return func(_ core.Lot, s core.Step) bool { return s.Stage == name }
}

// beforeStep stops at a step's number.
func beforeStep(no int) func(core.Lot, core.Step) bool {
	return func(l core.Lot, s core.Step) bool { return s.No >= no }
}

// run works on jobs side by side, one turn each, until all have come to their
// stops.
func (f *floor) run(jobs ...*job) error {
	for len(jobs) > 0 {
		var left []*job
		for _, j := range jobs {
			done, err := f.turn(j)
			if err != nil {
				return fmt.Errorf("pallet %s: %w", j.pallet, err)
			}
			if !done {
				left = append(left, j)
			}
		}
		jobs = left
	}
	return nil
}

// coating are stages that follow on each other without a break.
var coating = []core.StageName{"pretreat", "key-and-clean", "mask", "coat"}

// turn does a pallet's next step; done when none is left to do.
func (f *floor) turn(j *job) (done bool, err error) {
	for {
		l, step, ok := f.first(j)
		if !ok {
			return true, f.park(j)
		}
		if step.Stage == "pretreat" || step.Stage == "key-and-clean" {
			f.clock.Together(100 * time.Minute)
		}
		at, err := f.stationFor(step.Stage, l, f.state.Pallets[j.pallet].Station)
		if err != nil {
			return false, err
		}
		if err := f.bring(j.pallet, at); err != nil {
			return false, err
		}
		if _, err := f.sign(j.pallet, step.Stage, j.flaws[step.Stage]...); err != nil {
			return false, err
		}
		if !slices.Contains(coating, step.Stage) {
			return false, nil
		}
	}
}

// first is the lot to work on next, and its step: of those that may go on, the
// one whose stage comes first.
func (f *floor) first(j *job) (core.Lot, core.Step, bool) {
	var lot core.Lot
	var step core.Step
	found := false
	for _, l := range f.lots(j.pallet) {
		if _, held := core.HeldBy(f.state, l); held {
			continue
		}
		next := core.NextSteps(f.book, l)
		if len(next) == 0 || j.stop != nil && j.stop(l, next[0]) {
			continue
		}
		if rank := f.rank(next[0].Stage); !found || rank < f.rank(step.Stage) {
			lot, step, found = l, next[0], true
		}
	}
	return lot, step, found
}

func (f *floor) rank(n core.StageName) int { return slices.Index(f.book.Table.Order, n) }

// park takes a pallet to where its job leaves it.
func (f *floor) park(j *job) error {
	row := f.state.Pallets[j.pallet]
	if err := f.print(j.pallet, row.Station); err != nil || j.to == "" {
		return err
	}
	if j.onWay {
		return f.sendOn(j.pallet, j.to)
	}
	return f.bring(j.pallet, j.to)
}
