package calendar

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"time"
)

// ErrShift says that shifts can't make a calendar: a time out of range, or two
// at once. Errors that wrap it are sentences for people.
var ErrShift = errors.New("nothing was kept: change the shifts and save again")

// Shift is a stretch of work in every week. If End is not after Start it ends
// on the next day. A break is a gap between two shifts.
type Shift struct {
	Name       string
	Weekday    time.Weekday // the day it starts on and belongs to
	Start, End Clock
}

// minutes is the length by the wall clock.
func (s Shift) minutes() int {
	length := int(s.End - s.Start)
	if length <= 0 {
		length += 24 * 60
	}
	return length
}

// Turn is one shift on one day.
type Turn struct {
	Shift
	Day    Date      // the day it belongs to
	Begins time.Time // first instant
	Ends   time.Time // first instant after it
}

// Calendar is a shop's zone, weekly shifts and holidays. It never changes once
// made and is safe for many goroutines.
type Calendar struct {
	zone     *time.Location
	shifts   [7][]Shift // by weekday, ordered by start
	holidays map[Date]string
	any      bool
}

// New makes a calendar. No shift that starts on a holiday is worked; a night
// shift from the day before runs to its end. The error wraps ErrShift or
// ErrZone.
func New(zone string, shifts []Shift, holidays map[Date]string) (*Calendar, error) {
	location, err := LoadZone(zone)
	if err != nil {
		return nil, err
	}
	c := &Calendar{zone: location, holidays: map[Date]string{}, any: len(shifts) > 0}
	for day, name := range holidays {
		c.holidays[day] = name
	}
	for _, s := range shifts {
		if s.Weekday < time.Sunday || s.Weekday > time.Saturday || !s.Start.valid() || !s.End.valid() {
			return nil, fmt.Errorf("shift %q: weekday %d, %v to %v is out of range; %w", s.Name, s.Weekday, s.Start, s.End, ErrShift)
		}
		c.shifts[s.Weekday] = append(c.shifts[s.Weekday], s)
	}
	if err := refuseOverlap(shifts); err != nil {
		return nil, err
	}
	for _, day := range c.shifts {
		slices.SortFunc(day, func(a, b Shift) int { return cmp.Compare(a.Start, b.Start) })
	}
	return c, nil
}

// refuseOverlap lays all shifts on one week of minutes, which closes on itself.
func refuseOverlap(shifts []Shift) error {
	const week = 7 * 24 * 60
	begin := func(s Shift) int { return int(s.Weekday)*24*60 + int(s.Start) }
	sorted := slices.SortedFunc(slices.Values(shifts), func(a, b Shift) int { return cmp.Compare(begin(a), begin(b)) })
	for i, s := range sorted {
		next := sorted[(i+1)%len(sorted)]
		gap := begin(next) - begin(s)
		if i == len(sorted)-1 {
			gap += week
		}
		if s.minutes() > gap {
			return fmt.Errorf("shift %q (%v %v to %v) and shift %q (%v %v to %v) are at the same time; %w",
				s.Name, s.Weekday, s.Start, s.End, next.Name, next.Weekday, next.Start, next.End, ErrShift)
		}
	}
	return nil
}

// Zone is the shop's zone.
func (c *Calendar) Zone() *time.Location { return c.zone }

// Today is the day an instant falls on in the shop.
func (c *Calendar) Today(t time.Time) Date { return DateOf(t, c.zone) }

// Holiday is the name of the holiday on a day, if it is one.
func (c *Calendar) Holiday(d Date) (string, bool) {
	name, ok := c.holidays[d]
	return name, ok
}

// On lists the turns that belong to a day, in order; none on a holiday.
func (c *Calendar) On(d Date) []Turn {
	if _, closed := c.holidays[d]; closed {
		return nil
	}
	shifts := c.shifts[d.Weekday()]
	turns := make([]Turn, len(shifts))
	for i, s := range shifts {
		ends := d
		if s.End <= s.Start {
			ends = d.AddDays(1)
		}
		turns[i] = Turn{Shift: s, Day: d, Begins: At(d, s.Start, c.zone), Ends: At(ends, s.End, c.zone)}
	}
	return turns
}

// ShiftOf is the turn that an instant is in, if the shop works then. A turn
// holds its first instant but not its last.
func (c *Calendar) ShiftOf(t time.Time) (Turn, bool) {
	today := c.Today(t)
	for _, d := range []Date{today.AddDays(-1), today} {
		for _, turn := range c.On(d) {
			if !t.Before(turn.Begins) && t.Before(turn.Ends) {
				return turn, true
			}
		}
	}
	return Turn{}, false
}
