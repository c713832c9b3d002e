package shopgen

import (
	"fmt"
	"sync/atomic"
	"time"

	"tagalong/internal/calendar"
)

// Weeks is how many weeks of history a demo shop has.
const Weeks = 3

// Clock is the simulated clock of a demo shop. It runs through working time
// only and stops at the present.
type Clock struct {
	cal   *calendar.Calendar
	turns []calendar.Turn  // from the first to the last, the last ending at the present
	total time.Duration    // of all turns
	gone  time.Duration    // worked so far
	now   atomic.Int64     // Unix microseconds
	live  func() time.Time // tells the time instead, and nothing makes it pass
}

// liveClock is the clock of people who work now.
func liveClock(now func() time.Time) *Clock { return &Clock{live: now} }

// shifts: an early and a late one from Monday to Friday, a half Saturday.
func shifts() []calendar.Shift {
	var out []calendar.Shift
	for d := time.Monday; d <= time.Friday; d++ {
		out = append(out, calendar.Shift{Name: "early", Weekday: d, Start: 6 * 60, End: 14 * 60},
			calendar.Shift{Name: "late", Weekday: d, Start: 14 * 60, End: 22 * 60})
	}
	return append(out, calendar.Shift{Name: "Saturday", Weekday: time.Saturday, Start: 6 * 60, End: 12 * 60})
}

// Worked is the working time that a demo shop's history takes up.
const Worked = Weeks * (5*16 + 6) * time.Hour

// NewClock makes a clock that starts so much working time before now.
func NewClock(now time.Time) (*Clock, error) {
	cal, err := calendar.New(Zone, shifts(), nil)
	if err != nil {
		return nil, err
	}
	c := &Clock{cal: cal}
	turns := cal.Turns(now.AddDate(0, 0, -7*(Weeks+2)), now)
	for i := len(turns) - 1; i >= 0 && c.total < Worked; i-- {
		t := turns[i]
		if t.Ends.After(now) {
			t.Ends = now
		}
		if over := c.total + t.Ends.Sub(t.Begins) - Worked; over > 0 {
			t.Begins = t.Begins.Add(over)
		}
		c.total += t.Ends.Sub(t.Begins)
		c.turns = append([]calendar.Turn{t}, c.turns...)
	}
	if c.total < Worked {
		return nil, fmt.Errorf("the shop's calendar has no %v of work before %v", Worked, now)
	}
	c.set()
	return c, nil
}

// Now is the simulated time, in whole microseconds as the record keeps it.
func (c *Clock) Now() time.Time {
	if c.live != nil {
		return c.live().UTC().Truncate(time.Microsecond)
	}
	return time.UnixMicro(c.now.Load()).UTC()
}

// Left is the working time up to the present.
func (c *Clock) Left() time.Duration { return c.total - c.gone }

// Pass lets working time pass; at most what is left.
func (c *Clock) Pass(d time.Duration) {
	if c.live != nil {
		return
	}
	c.gone = min(c.gone+d, c.total)
	c.set()
}

// Until lets time pass until so much is left; nothing if less is.
func (c *Clock) Until(left time.Duration) {
	if d := c.Left() - left; d > 0 {
		c.Pass(d)
	}
}

// Together makes sure that work of length d is not broken by the end of a day:
// where it would be, the clock goes on to the next morning.
func (c *Clock) Together(d time.Duration) {
	at := c.gone
	for i, t := range c.turns {
		length := t.Ends.Sub(t.Begins)
		if at >= length {
			at -= length
			continue
		}
		left := length - at
		if left < d && i+1 < len(c.turns) && c.turns[i+1].Begins.After(t.Ends) {
			c.Pass(left)
		}
		return
	}
}

// Turn is the working time left before the next break of the work.
func (c *Clock) Turn() time.Duration {
	if c.live != nil {
		return 24 * time.Hour // they go on round the clock
	}
	at := c.gone
	for i, t := range c.turns {
		length := t.Ends.Sub(t.Begins)
		if at >= length {
			at -= length
			continue
		}
		left := length - at
		for i++; i < len(c.turns) && !c.turns[i].Begins.After(c.turns[i-1].Ends); i++ {
			left += c.turns[i].Ends.Sub(c.turns[i].Begins)
		}
		return left
	}
	return 0
}

func (c *Clock) set() {
	at := c.gone
	for i, t := range c.turns {
		length := t.Ends.Sub(t.Begins)
		if at < length || i == len(c.turns)-1 {
			c.now.Store(t.Begins.Add(at).UnixMicro())
			return
		}
		at -= length
	}
}

// end is the present.
func (c *Clock) end() time.Time { return c.turns[len(c.turns)-1].Ends }
