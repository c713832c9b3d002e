package calendar

import (
	"errors"
	"fmt"
	"time"

	_ "time/tzdata" // so that every machine knows the same zones
)

// Errors of clocks and zones. Their texts are sentences for people.
var (
	ErrClock = errors.New("a time of day is written 06:00, from 00:00 to 23:59. Nothing was kept. Write it that way")
	ErrZone  = errors.New("a time zone is written as in the IANA database, such as Europe/London. Nothing was kept. Write it that way")
)

// Clock is a time of day as the clock on the wall shows it, in minutes since
// midnight, 0 to 1439.
type Clock int

// ParseClock reads 06:00 and nothing else. The error wraps ErrClock.
func ParseClock(text string) (Clock, error) {
	if t, err := time.Parse("15:04", text); err == nil && len(text) == len("15:04") {
		return Clock(t.Hour()*60 + t.Minute()), nil
	}
	return 0, fmt.Errorf("%.20q is no time of day: %w", text, ErrClock)
}

// String is the form 06:00.
func (c Clock) String() string { return fmt.Sprintf("%02d:%02d", int(c)/60, int(c)%60) }

func (c Clock) valid() bool { return c >= 0 && c < 24*60 }

// LoadZone finds a zone by its IANA name. An empty name and "Local" are
// refused, since they'd mean something else on another machine. The error wraps
// ErrZone.
func LoadZone(name string) (*time.Location, error) {
	if name == "" || name == "Local" {
		return nil, fmt.Errorf("%q is no time zone: %w", name, ErrZone)
	}
	zone, err := time.LoadLocation(name)
	if err != nil {
		return nil, fmt.Errorf("%.40q is no time zone: %w", name, ErrZone)
	}
	return zone, nil
}

// At is the instant when the wall clock in a zone shows c on day d. A time that
// comes twice, when clocks go back, is its first coming; one that is left out,
// when they go forward, is read with the offset from before the change (RFC
// 5545 section 3.3.5).
func At(d Date, c Clock, zone *time.Location) time.Time {
	wall := d.utc().Add(time.Duration(c) * time.Minute)
	before := wall.Add(-offset(wall.Add(-24*time.Hour), zone))
	if sameWall(before, wall, zone) {
		return before.In(zone)
	}
	after := wall.Add(-offset(wall.Add(24*time.Hour), zone))
	if sameWall(after, wall, zone) {
		return after.In(zone)
	}
	return before.In(zone)
}

func offset(t time.Time, zone *time.Location) time.Duration {
	_, seconds := t.In(zone).Zone()
	return time.Duration(seconds) * time.Second
}

func sameWall(t, wall time.Time, zone *time.Location) bool {
	return t.Add(offset(t, zone)).Equal(wall)
}

// Lapse is the instant at which something done at t lapses after d of exact
// time.
func Lapse(t time.Time, d time.Duration) time.Time { return t.Round(0).Add(d) }

// SameClock is the instant n days later at the same time on the wall, which is
// not always n × 24 hours later.
func SameClock(t time.Time, n int, zone *time.Location) time.Time {
	local := t.In(zone)
	minute := time.Duration(local.Second())*time.Second + time.Duration(local.Nanosecond())
	return At(DateOf(t, zone).AddDays(n), Clock(local.Hour()*60+local.Minute()), zone).Add(minute)
}
