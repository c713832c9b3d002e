package calendar

import (
	"errors"
	"iter"
	"time"
)

// ErrNoWork says that the calendar has no shift within ten years to come.
var ErrNoWork = errors.New("the calendar has no shift left in the next ten years. Nothing was planned. Enter the shifts first")

// horizon is how many days ahead work is looked for.
const horizon = 10 * 366

// turns goes through all turns that end after from, in order, up to the horizon.
func (c *Calendar) turns(from time.Time) iter.Seq[Turn] {
	return func(yield func(Turn) bool) {
		first := c.Today(from).AddDays(-1)
		for i := range horizon {
			for _, turn := range c.On(first.AddDays(i)) {
				if turn.Ends.After(from) && !yield(turn) {
					return
				}
			}
		}
	}
}

// Turns lists the turns that lie at least partly between two instants.
func (c *Calendar) Turns(from, to time.Time) []Turn {
	var found []Turn
	for d, last := c.Today(from).AddDays(-1), c.Today(to); !d.After(last); d = d.AddDays(1) {
		for _, turn := range c.On(d) {
			if turn.Ends.After(from) && turn.Begins.Before(to) {
				found = append(found, turn)
			}
		}
	}
	return found
}

// WorkingTime is how much of the time between two instants is worked, as exact
// time; 0 if to is not after from.
func (c *Calendar) WorkingTime(from, to time.Time) time.Duration {
	if !to.After(from) {
		return 0
	}
	var sum time.Duration
	for _, turn := range c.Turns(from, to) {
		sum += earlier(to, turn.Ends).Sub(later(from, turn.Begins))
	}
	return sum
}

// AfterWork is the instant at which an amount of working time from an instant
// on is done; the first working instant for an amount of 0 or less. The error
// is ErrNoWork.
func (c *Calendar) AfterWork(from time.Time, amount time.Duration) (time.Time, error) {
	if !c.any {
		return time.Time{}, ErrNoWork
	}
	for turn := range c.turns(from) {
		begin := later(from, turn.Begins)
		if left := turn.Ends.Sub(begin); amount > left {
			amount -= left
			continue
		}
		return begin.Add(max(0, amount)), nil
	}
	return time.Time{}, ErrNoWork
}

// NextTurn is the first turn that begins after an instant. The error is
// ErrNoWork.
func (c *Calendar) NextTurn(t time.Time) (Turn, error) {
	for turn := range c.turns(t) {
		if turn.Begins.After(t) {
			return turn, nil
		}
	}
	return Turn{}, ErrNoWork
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}
