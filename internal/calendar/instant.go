package calendar

import (
	"errors"
	"fmt"
	"regexp"
	"strings"
	"time"
)

// ErrInstant says that a text is not an instant. Its text is a sentence for
// people.
var ErrInstant = errors.New("a moment is written as in RFC 3339, such as 2026-11-25T08:00:00Z or 2026-11-25T09:00:00+01:00. Nothing was kept. Write it that way")

// rfc3339 is the grammar of RFC 3339 section 5.6, with 9 digits of fraction at
// most. Go's own reader takes a comma, one-digit hours and offsets of a day.
var rfc3339 = regexp.MustCompile(`^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d{1,9})?(Z|[+-]([01]\d|2[0-3]):[0-5]\d)$`)

// ParseInstant reads RFC 3339 strictly, in UTC. A leap second, 23:59:60 UTC,
// is read as the second after it, as PostgreSQL does; elsewhere 60 is refused.
// The error wraps ErrInstant.
func ParseInstant(text string) (time.Time, error) {
	upper := strings.ToUpper(text)
	refused := fmt.Errorf("%.40q is no moment: %w", text, ErrInstant)
	if len(text) > len("2026-11-25T08:00:00.123456789+01:00") || !rfc3339.MatchString(upper) {
		return time.Time{}, refused
	}
	const secondsAt = len("2026-11-25T08:00:")
	leap := upper[secondsAt:secondsAt+2] == "60"
	if leap {
		upper = upper[:secondsAt] + "59" + upper[secondsAt+2:]
	}
	t, err := time.Parse(time.RFC3339, upper)
	if err != nil {
		return time.Time{}, refused
	}
	t = t.UTC()
	if leap {
		if t.Hour() != 23 || t.Minute() != 59 {
			return time.Time{}, refused
		}
		t = t.Add(time.Second)
	}
	if t.Year() < 1 || t.Year() > 9999 { // in UTC it could no longer be written
		return time.Time{}, refused
	}
	return t, nil
}
