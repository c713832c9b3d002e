package ui

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"tagalong/internal/core"
)

// Spaced is a code as people read it, in two groups of four.
func Spaced(code string) string {
	if len(code) != 8 {
		return code
	}
	return code[:4] + " " + code[4:]
}

// Count is a number with its noun: "1 part", "24 parts". The plural is formed
// with s unless it is given.
func Count(n int, one string, many ...string) string {
	switch {
	case n == 1:
		return "1 " + one
	case len(many) > 0:
		return strconv.Itoa(n) + " " + many[0]
	}
	return strconv.Itoa(n) + " " + one + "s"
}

// Day is a date as "Thu 3 Dec", with the year where it is not now's.
func Day(d core.Date, now time.Time) string {
	t := d.Time(time.UTC)
	switch {
	case t.IsZero():
		return ""
	case t.Year() != now.Year() && !now.IsZero():
		return t.Format("2 Jan 2006")
	}
	return t.Format("Mon 2 Jan")
}

// Clock is a time of day as "14:12".
func Clock(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format("15:04")
}

// Moment is a time as "14:12" today, else "Wed 25 Nov, 14:12", in now's zone.
func Moment(t, now time.Time) string {
	if t.IsZero() {
		return ""
	}
	t = t.In(now.Location())
	switch {
	case t.Year() != now.Year():
		return t.Format("Mon 2 Jan 2006, 15:04")
	case t.YearDay() != now.YearDay():
		return t.Format("Mon 2 Jan, 15:04")
	}
	return t.Format("15:04")
}

// Age is how long ago t was, in the largest unit that says enough: "25 min",
// "2 h 10", "3 d".
func Age(t, now time.Time) string {
	if t.IsZero() {
		return ""
	}
	return Lasting(max(now.Sub(t), 0))
}

// Lasting is how long something takes, in the largest unit that says enough.
func Lasting(d time.Duration) string {
	switch m := int(d.Minutes()); {
	case m < 60:
		return fmt.Sprintf("%d min", m)
	case m < 10*60 && m%60 != 0:
		return fmt.Sprintf("%d h %02d", m/60, m%60)
	case m < 48*60:
		return fmt.Sprintf("%d h", m/60)
	default:
		return fmt.Sprintf("%d d", m/60/24)
	}
}

// Kilograms is a mass with as many digits as a person lifting it needs.
func Kilograms(kg float64) string {
	switch {
	case kg <= 0:
		return "mass not known"
	case kg < 1:
		return strconv.FormatFloat(kg, 'f', 2, 64) + " kg"
	case kg < 10:
		return strconv.FormatFloat(kg, 'f', 1, 64) + " kg"
	}
	return strconv.FormatFloat(kg, 'f', 0, 64) + " kg"
}

// Number is a number without needless zeros.
func Number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// List joins names as people do: "a, b and c".
func List(names ...string) string {
	switch len(names) {
	case 0:
		return ""
	case 1:
		return names[0]
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// Either joins names to choose from: "a, b or c".
func Either(names ...string) string {
	if len(names) < 2 {
		return List(names...)
	}
	return strings.Join(names[:len(names)-1], ", ") + " or " + names[len(names)-1]
}

// Capital begins a text with a capital letter.
func Capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToUpper(r)) + s[n:]
}

// Undone takes "Nothing was recorded." off a remedy, for where a flag above it
// says so already.
func Undone(remedy string) string {
	return strings.TrimPrefix(remedy, "Nothing was recorded. ")
}

// Limits says what a qualification covers.
func Limits(q core.Qualification) string {
	var out []string
	if q.Metal != "" {
		out = append(out, string(q.Metal))
	}
	if q.MaxThickness > 0 {
		out = append(out, "up to "+Number(q.MaxThickness)+" mm")
	}
	if len(q.Positions) > 0 {
		out = append(out, "in "+strings.Join(q.Positions, ", "))
	}
	if len(out) == 0 {
		return "any metal, any thickness"
	}
	return strings.Join(out, ", ")
}
