package calendar

import (
	"encoding/json"
	"fmt"
	"os"
	"testing"
	"time"
)

// checkCase is one case of testdata/checks, with its source beside it.
type checkCase struct {
	ID     string          `json:"id"`
	Topic  string          `json:"topic"`
	Input  json.RawMessage `json:"input"`
	Expect json.RawMessage `json:"expect"`
	Source string          `json:"source"`
}

// cases reads the cases of one topic; none is an error.
func cases(t *testing.T, topic string) []checkCase {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/checks/time.json")
	if err != nil {
		t.Fatal(err)
	}
	var all, found []checkCase
	if err := json.Unmarshal(raw, &all); err != nil {
		t.Fatal(err)
	}
	for _, c := range all {
		if c.Topic == topic {
			found = append(found, c)
		}
	}
	if len(found) == 0 {
		t.Fatalf("no case of topic %s", topic)
	}
	return found
}

func decode[T any](t *testing.T, raw json.RawMessage) T {
	t.Helper()
	var v T
	if err := json.Unmarshal(raw, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

func zone(t *testing.T, name string) *time.Location {
	t.Helper()
	z, err := LoadZone(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// local reads a wall time such as 2026-03-28T22:00.
func local(t *testing.T, text string) (Date, Clock) {
	t.Helper()
	if len(text) != len("2026-03-28T22:00") {
		t.Fatalf("%q is no wall time", text)
	}
	d, err := ParseDate(text[:10])
	if err != nil {
		t.Fatal(err)
	}
	c, err := ParseClock(text[11:])
	if err != nil {
		t.Fatal(err)
	}
	return d, c
}

func TestISOWeeks(t *testing.T) {
	for _, c := range cases(t, "time/iso-week") {
		in := decode[struct {
			Date Date
			Year int
		}](t, c.Input)
		want := decode[struct {
			WeekDate string `json:"week_date"`
			Weeks    int
		}](t, c.Expect)
		if !in.Date.IsZero() {
			if got := in.Date.WeekDate(); got != want.WeekDate {
				t.Errorf("%s: %s, want %s (%s)", c.ID, got, want.WeekDate, c.Source)
			}
			continue
		}
		last := Date{in.Year, time.December, 28}.WeekDate()
		if got := fmt.Sprintf("%04d-W%02d", in.Year, want.Weeks); last[:8] != got {
			t.Errorf("%s: last week %s, want %s (%s)", c.ID, last, got, c.Source)
		}
	}
}

func TestRFC3339(t *testing.T) {
	for _, c := range cases(t, "time/rfc3339") {
		in := decode[struct {
			Text  string
			Texts []string
		}](t, c.Input)
		if in.Text == "" {
			for i, valid := range decode[struct{ Valid []bool }](t, c.Expect).Valid {
				if got, err := ParseInstant(in.Texts[i]); (err == nil) != valid {
					t.Errorf("%s: %q gives %v, %v, valid is %v (%s)", c.ID, in.Texts[i], got, err, valid, c.Source)
				}
			}
			continue
		}
		want := decode[struct {
			Same     string  `json:"same_instant"`
			Fraction float64 `json:"fraction_seconds"`
		}](t, c.Expect)
		got, err := ParseInstant(in.Text)
		if err != nil {
			t.Errorf("%s: %v (%s)", c.ID, err, c.Source)
			continue
		}
		if want.Same != "" && got.Format(time.RFC3339) != want.Same {
			t.Errorf("%s: %v, want %s (%s)", c.ID, got, want.Same, c.Source)
		}
		if want.Fraction != 0 && got.Nanosecond() != int(want.Fraction*1e9) {
			t.Errorf("%s: fraction %d ns (%s)", c.ID, got.Nanosecond(), c.Source)
		}
	}
	leap, err := ParseInstant("1990-12-31T15:59:60-08:00") // RFC 3339 section 5.8, the same leap second
	if want := time.Date(1991, 1, 1, 0, 0, 0, 0, time.UTC); err != nil || !leap.Equal(want) {
		t.Errorf("leap second: %v, %v, want %v", leap, err, want)
	}
	for _, bad := range []string{"", "2026-11-25T08:00:60Z", "2026-11-25T23:59:61Z", "2026-11-25 08:00:00Z", "2026-11-25T08:00:00.1234567891Z", "2026-11-25T08:00:00-24:00"} {
		if got, err := ParseInstant(bad); err == nil {
			t.Errorf("%q gives %v", bad, got)
		}
	}
}

func TestShiftLengths(t *testing.T) {
	for _, c := range cases(t, "time/shift-length") {
		in := decode[struct {
			Zone string
			From string `json:"from_local"`
			To   string `json:"to_local"`
		}](t, c.Input)
		want := time.Duration(decode[struct {
			Hours float64 `json:"elapsed_hours"`
		}](t, c.Expect).Hours * float64(time.Hour))
		fromDay, from := local(t, in.From)
		toDay, to := local(t, in.To)
		z := zone(t, in.Zone)
		if got := At(toDay, to, z).Sub(At(fromDay, from, z)); got != want {
			t.Errorf("%s: %v, want %v (%s)", c.ID, got, want, c.Source)
		}
		// The same as a shift of a calendar, and as working time over two days.
		cal, err := New(in.Zone, []Shift{{Name: "it", Weekday: fromDay.Weekday(), Start: from, End: to}}, nil)
		if err != nil {
			t.Fatal(err)
		}
		turns := cal.On(fromDay)
		if len(turns) != 1 || turns[0].Ends.Sub(turns[0].Begins) != want || turns[0].Day != fromDay {
			t.Errorf("%s: turns %+v, want one of %v (%s)", c.ID, turns, want, c.Source)
		}
		if got := cal.WorkingTime(At(fromDay, 0, z), At(fromDay.AddDays(2), 0, z)); got != want {
			t.Errorf("%s: working time %v, want %v (%s)", c.ID, got, want, c.Source)
		}
	}
}

func TestAmbiguousAndMissingWallTimes(t *testing.T) {
	for _, c := range cases(t, "time/ambiguous-local") {
		in := decode[struct{ Zone, Local string }](t, c.Input)
		first := decode[struct{ UTC []time.Time }](t, c.Expect).UTC[0]
		day, clock := local(t, in.Local)
		if got := At(day, clock, zone(t, in.Zone)); !got.Equal(first) {
			t.Errorf("%s: %v, want the first coming %v (%s)", c.ID, got, first, c.Source)
		}
	}
	for _, c := range cases(t, "time/missing-local") {
		in := decode[struct{ Zone, Local string }](t, c.Input)
		day, clock := local(t, in.Local)
		z := zone(t, in.Zone)
		// Offset from before the gap: the clock then shows an hour later.
		got := At(day, clock, z)
		if shown := got.Format("2006-01-02T15:04"); DateOf(got, z) != day || shown != fmt.Sprintf("%vT%v", day, clock+60) {
			t.Errorf("%s: %s, want an hour after %s (%s; RFC 5545 section 3.3.5)", c.ID, shown, in.Local, c.Source)
		}
	}
}

func TestTransitions(t *testing.T) {
	for _, c := range cases(t, "time/transitions") {
		in := decode[struct {
			Zone string
			Year int
		}](t, c.Input)
		z := zone(t, in.Zone)
		var got [][3]string
		for at := time.Date(in.Year, 1, 1, 0, 0, 0, 0, time.UTC); at.Year() == in.Year; at = at.Add(time.Minute) {
			if before, after := offset(at.Add(-time.Second), z), offset(at, z); before != after {
				got = append(got, [3]string{at.Format(time.RFC3339), fmt.Sprint(before.Minutes()), fmt.Sprint(after.Minutes())})
			}
		}
		var want [][3]string
		for _, row := range decode[struct {
			Rows [][3]any `json:"transitions_utc_offset_before_after_minutes"`
		}](t, c.Expect).Rows {
			want = append(want, [3]string{fmt.Sprint(row[0]), fmt.Sprint(row[1]), fmt.Sprint(row[2])})
		}
		if fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("%s: %v, want %v (%s)", c.ID, got, want, c.Source)
		}
	}
}

func TestOffsetsBetweenZones(t *testing.T) {
	for _, c := range cases(t, "time/offset-difference") {
		in := decode[struct {
			Instant time.Time
			Zones   []string
		}](t, c.Input)
		want := decode[struct {
			Hours float64 `json:"hours_ahead"`
		}](t, c.Expect).Hours
		if got := (offset(in.Instant, zone(t, in.Zones[1])) - offset(in.Instant, zone(t, in.Zones[0]))).Hours(); got != want {
			t.Errorf("%s: %g hours, want %g (%s)", c.ID, got, want, c.Source)
		}
	}
}

// A pretreatment lapses after exact hours; "tomorrow at ten" is wall time.
func TestExactAndNominalDays(t *testing.T) {
	tried := 0
	for _, c := range cases(t, "time/duration") {
		in := decode[struct {
			Zone  string
			Start string `json:"start_local"`
		}](t, c.Input)
		want := decode[struct {
			Exact   string `json:"plus_PT24H_local"`
			Nominal string `json:"plus_P1D_local"`
		}](t, c.Expect)
		if in.Zone == "" {
			continue // months, in TestAddMonths
		}
		tried++
		z := zone(t, in.Zone)
		day, clock := local(t, in.Start)
		start := At(day, clock, z)
		const form = "2006-01-02T15:04-0700"
		if got := Lapse(start, 24*time.Hour).In(z).Format(form); got != want.Exact {
			t.Errorf("%s: 24 hours later %s, want %s (%s)", c.ID, got, want.Exact, c.Source)
		}
		if got := SameClock(start, 1, z).Format(form); got != want.Nominal {
			t.Errorf("%s: a day later %s, want %s (%s)", c.ID, got, want.Nominal, c.Source)
		}
	}
	if tried == 0 {
		t.Error("no case tried")
	}
}

func TestAddMonths(t *testing.T) {
	for _, c := range cases(t, "time/duration") {
		in := decode[struct{ Start Date }](t, c.Input)
		want := decode[struct{ Clamped Date }](t, c.Expect).Clamped
		if want.IsZero() {
			continue
		}
		if got := in.Start.AddMonths(1); got != want {
			t.Errorf("%s: %v, want %v (%s)", c.ID, got, want, c.Source)
		}
	}
	start := Date{2024, time.February, 29}
	for months, want := range map[int]string{12: "2025-02-28", 48: "2028-02-29", -1: "2024-01-29", -2: "2023-12-29", 10: "2024-12-29", 11: "2025-01-29"} {
		if got := start.AddMonths(months).String(); got != want {
			t.Errorf("%v and %d months is %s, want %s", start, months, got, want)
		}
	}
}

// A shop closed on three days: the days its weekly shift starts, against RFC
// 5545 rules worked out by another library.
func TestShopWeekAgainstRecurrenceRules(t *testing.T) {
	for _, c := range cases(t, "time/rrule") {
		switch c.ID {
		case "rrule-shop-week":
			want := decode[struct {
				Local []string `json:"occurrences_local"`
			}](t, c.Expect).Local
			var shifts []Shift
			for day := time.Monday; day <= time.Friday; day++ {
				shifts = append(shifts, Shift{Name: "early", Weekday: day, Start: 6 * 60, End: 14 * 60})
			}
			cal, err := New("Europe/London", shifts, map[Date]string{
				{2026, 12, 25}: "closed", {2026, 12, 28}: "closed", {2027, 1, 1}: "closed"})
			if err != nil {
				t.Fatal(err)
			}
			at := time.Date(2026, 12, 21, 5, 0, 0, 0, time.UTC)
			for _, w := range want {
				turn, err := cal.NextTurn(at)
				if err != nil {
					t.Fatal(err)
				}
				if got := turn.Begins.Format("2006-01-02T15:04:05"); got != w {
					t.Errorf("%s: %s, want %s (%s)", c.ID, got, w, c.Source)
				}
				at = turn.Begins
			}
		case "rrule-dst-wall":
			in := decode[struct {
				Zone  string
				Start string `json:"dtstart_local"`
			}](t, c.Input)
			day, clock := local(t, in.Start)
			for i, w := range decode[struct {
				UTC []time.Time `json:"first_three_utc"`
			}](t, c.Expect).UTC {
				if got := At(day.AddDays(i), clock, zone(t, in.Zone)); !got.Equal(w) {
					t.Errorf("%s: %v, want %v (%s)", c.ID, got, w, c.Source)
				}
			}
		}
	}
}
