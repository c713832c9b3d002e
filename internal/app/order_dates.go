package app

import (
	"fmt"
	"strconv"
	"time"

	"tagalong/internal/core"
)

// dayName is a calendar day as it is said: "Thursday 3 December", with the year
// where it isn't this one. An unreadable date is shown as it is stored.
func dayName(d, today core.Date) string {
	t := d.Time(time.UTC)
	if t.IsZero() {
		return string(d)
	}
	if t.Year() == today.Time(time.UTC).Year() || today == "" {
		return t.Format("Monday 2 January")
	}
	return t.Format("Monday 2 January 2006")
}

// daysBetween counts calendar days from a to b; negative where b is earlier.
func daysBetween(a, b core.Date) int {
	return int(b.Time(time.UTC).Sub(a.Time(time.UTC)).Hours() / 24)
}

// promise says what was promised: "Promised for Thursday 3 December", "Promised
// for today, Wednesday 25 November", "Promised for Friday 20 November, five
// days ago". No full stop.
func promise(d, today core.Date) string {
	if d == "" {
		return "No date is promised"
	}
	name := dayName(d, today)
	switch n := daysBetween(today, d); {
	case n == 0:
		return "Promised for today, " + name
	case n == 1:
		return "Promised for tomorrow, " + name
	case n == -1:
		return "Promised for yesterday, " + name
	case n < -1:
		return "Promised for " + name + ", " + ago(-n)
	}
	return "Promised for " + name
}

func ago(days int) string {
	if days >= 21 {
		return counted(days/7, "week") + " ago"
	}
	return counted(days, "day") + " ago"
}

// clockOn is a time of day, with the day where it isn't today: "14:05",
// "14:05 on Tuesday 24 November". The times must be in the shop's zone.
func clockOn(t, now time.Time) string {
	if t.IsZero() {
		return ""
	}
	if core.DateOf(t) == core.DateOf(now) {
		return t.Format("15:04")
	}
	return t.Format("15:04") + " on " + dayName(core.DateOf(t), core.DateOf(now))
}

// Lasting is a length of time as the screens write it, coarser as it grows:
// "25 min", "2 h 10", "1 d", "3 weeks".
func Lasting(d time.Duration) string {
	switch m := int(d.Minutes()); {
	case m < 0:
		return "0 min"
	case m < 60:
		return strconv.Itoa(m) + " min"
	case m < 10*60:
		return fmt.Sprintf("%d h %02d", m/60, m%60)
	case m < 24*60:
		return strconv.Itoa(m/60) + " h"
	case m < 21*24*60:
		return strconv.Itoa(m/(24*60)) + " d"
	default:
		return strconv.Itoa(m/(7*24*60)) + " weeks"
	}
}
