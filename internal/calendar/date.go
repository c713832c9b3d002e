package calendar

import (
	"cmp"
	"database/sql/driver"
	"errors"
	"fmt"
	"time"
)

// ErrDate says that a text is not a date. Its text is a sentence for people.
var ErrDate = errors.New("a date is written year-month-day, such as 2026-12-03. Nothing was kept. Write it that way")

// Date is a day of the calendar, such as the promised date of an order, without
// hour or zone. Its zero value is no date.
type Date struct {
	Year  int
	Month time.Month
	Day   int
}

// NewDate refuses a day that doesn't exist, such as 30 February, with ErrDate.
func NewDate(year int, month time.Month, day int) (Date, error) {
	d := Date{year, month, day}
	if year < 1 || year > 9999 || DateOf(d.utc(), time.UTC) != d {
		return Date{}, fmt.Errorf("%04d-%02d-%02d does not exist: %w", year, month, day, ErrDate)
	}
	return d, nil
}

// ParseDate reads the ISO 8601 form 2026-12-03 and nothing else. The error
// wraps ErrDate.
func ParseDate(text string) (Date, error) {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil || t.Year() < 1 {
		return Date{}, fmt.Errorf("%.20q is no date: %w", text, ErrDate)
	}
	return DateOf(t, time.UTC), nil
}

// DateOf is the day an instant falls on in a zone.
func DateOf(t time.Time, zone *time.Location) Date {
	year, month, day := t.In(zone).Date()
	return Date{year, month, day}
}

// IsZero reports whether there is no date.
func (d Date) IsZero() bool { return d == Date{} }

// String is the ISO 8601 form, 2026-12-03; empty for no date.
func (d Date) String() string {
	if d.IsZero() {
		return ""
	}
	return fmt.Sprintf("%04d-%02d-%02d", d.Year, d.Month, d.Day)
}

// Short is the form for tickets and screens, "Thu 3 Dec"; empty for no date.
func (d Date) Short() string { return d.format("Mon 2 Jan") }

// Long is Short with the year, "Thu 3 Dec 2026"; empty for no date.
func (d Date) Long() string { return d.format("Mon 2 Jan 2006") }

func (d Date) format(layout string) string {
	if d.IsZero() {
		return ""
	}
	return d.utc().Format(layout)
}

// Weekday is the day of the week.
func (d Date) Weekday() time.Weekday { return d.utc().Weekday() }

// WeekDate is the ISO 8601 week date, "2026-W53-7" for Sunday 3 January 2027:
// the week's year is not always the calendar's.
func (d Date) WeekDate() string {
	year, week := d.utc().ISOWeek()
	return fmt.Sprintf("%04d-W%02d-%d", year, week, (int(d.Weekday())+6)%7+1)
}

// Compare orders dates: -1, 0 or +1. No date comes first.
func (d Date) Compare(other Date) int {
	return cmp.Or(cmp.Compare(d.Year, other.Year), cmp.Compare(d.Month, other.Month), cmp.Compare(d.Day, other.Day))
}

// Before reports whether d is an earlier day.
func (d Date) Before(other Date) bool { return d.Compare(other) < 0 }

// After reports whether d is a later day.
func (d Date) After(other Date) bool { return d.Compare(other) > 0 }

// AddDays is n days later, or earlier if n is negative.
func (d Date) AddDays(n int) Date { return DateOf(d.utc().AddDate(0, 0, n), time.UTC) }

// AddMonths is n months later on the same day of the month, or on the month's
// last day if it is shorter: 31 January and a month is 28 February, as in
// PostgreSQL. Calibrations fall due that way.
func (d Date) AddMonths(n int) Date {
	first := time.Date(d.Year, d.Month+time.Month(n), 1, 0, 0, 0, 0, time.UTC)
	last := first.AddDate(0, 1, -1).Day()
	return Date{first.Year(), first.Month(), min(d.Day, last)}
}

// DaysUntil is how many days later other is; negative if it is earlier.
func (d Date) DaysUntil(other Date) int {
	return int(other.utc().Sub(d.utc()) / (24 * time.Hour))
}

// utc is midnight UTC of the day, which every day has.
func (d Date) utc() time.Time { return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC) }

// MarshalText writes String.
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads ParseDate's form, or no date from an empty text.
func (d *Date) UnmarshalText(text []byte) error {
	if len(text) == 0 {
		*d = Date{}
		return nil
	}
	parsed, err := ParseDate(string(text))
	if err != nil {
		return err
	}
	*d = parsed
	return nil
}

// Value stores a date column: null for no date.
func (d Date) Value() (driver.Value, error) {
	if d.IsZero() {
		return nil, nil
	}
	return d.utc(), nil
}

// Scan reads a date column: no date from null.
func (d *Date) Scan(src any) error {
	switch v := src.(type) {
	case nil:
		*d = Date{}
		return nil
	case time.Time:
		*d = DateOf(v, time.UTC)
		return nil
	case string:
		return d.UnmarshalText([]byte(v))
	}
	return fmt.Errorf("read a date from a %T: %w", src, ErrDate)
}
