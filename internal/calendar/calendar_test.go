package calendar

import (
	"encoding/json"
	"errors"
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// threeShifts is a shop of early, late and night, Monday to Friday.
func threeShifts(t testing.TB, zone string, holidays map[Date]string) *Calendar {
	t.Helper()
	var shifts []Shift
	for day := time.Monday; day <= time.Friday; day++ {
		shifts = append(shifts,
			Shift{Name: "night", Weekday: day, Start: 22 * 60, End: 6 * 60},
			Shift{Name: "early", Weekday: day, Start: 6 * 60, End: 14 * 60},
			Shift{Name: "late", Weekday: day, Start: 14 * 60, End: 22 * 60})
	}
	c, err := New(zone, shifts, holidays)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestDateForms(t *testing.T) {
	d, err := ParseDate("2026-12-03")
	if err != nil || d.Short() != "Thu 3 Dec" || d.Long() != "Thu 3 Dec 2026" || d.String() != "2026-12-03" {
		t.Errorf("%v: %q, %q (%v)", d, d.Short(), d.Long(), err)
	}
	for _, bad := range []string{"", "2026-2-3", "03.12.2026", "2026-02-30", "2026-13-01", "2026-12-03T00:00:00Z", "0000-01-01", " 2026-12-03", "20261203"} {
		if got, err := ParseDate(bad); !errors.Is(err, ErrDate) {
			t.Errorf("ParseDate(%q) = %v, %v", bad, got, err)
		}
	}
	if _, err := NewDate(2026, time.February, 29); !errors.Is(err, ErrDate) {
		t.Errorf("29 February 2026: %v", err)
	}
	if _, err := NewDate(2028, time.February, 29); err != nil {
		t.Errorf("29 February 2028: %v", err)
	}
	var none Date
	if none.String() != "" || none.Short() != "" || none.Long() != "" {
		t.Error("no date is written as nothing")
	}
}

func TestDateStores(t *testing.T) {
	for _, d := range []Date{{}, {2026, time.December, 3}} {
		raw, err := json.Marshal(d)
		if err != nil {
			t.Fatal(err)
		}
		var back Date
		if err := json.Unmarshal(raw, &back); err != nil || back != d {
			t.Errorf("%s reads back as %v (%v)", raw, back, err)
		}
		value, err := d.Value()
		if err != nil {
			t.Fatal(err)
		}
		if err := back.Scan(value); err != nil || back != d {
			t.Errorf("%v scans back as %v (%v)", value, back, err)
		}
	}
	var d Date
	if err := d.Scan(7); !errors.Is(err, ErrDate) {
		t.Errorf("a number: %v", err)
	}
	if err := json.Unmarshal([]byte(`"3 Dec"`), &d); !errors.Is(err, ErrDate) {
		t.Errorf("another form: %v", err)
	}
}

func TestDateArithmetic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		start := Date{2026, time.March, 1}.AddDays(rapid.IntRange(-4000, 4000).Draw(t, "start"))
		n := rapid.IntRange(-4000, 4000).Draw(t, "days")
		end := start.AddDays(n)
		if start.DaysUntil(end) != n || end.AddDays(-n) != start {
			t.Fatalf("%v and %d days is %v", start, n, end)
		}
		if (n > 0) != end.After(start) || (n < 0) != end.Before(start) {
			t.Fatalf("%v against %v", end, start)
		}
		if back, err := ParseDate(end.String()); err != nil || back != end {
			t.Fatalf("%v reads back as %v (%v)", end, back, err)
		}
	})
}

func TestClocksAndZones(t *testing.T) {
	if c, err := ParseClock("06:05"); err != nil || c != 365 || c.String() != "06:05" {
		t.Errorf("06:05 is %d (%v)", c, err)
	}
	for _, bad := range []string{"", "6:05", "24:00", "06:60", "0605", "06:05:00", "-1:00"} {
		if _, err := ParseClock(bad); !errors.Is(err, ErrClock) {
			t.Errorf("ParseClock(%q): %v", bad, err)
		}
	}
	for _, bad := range []string{"", "Local", "Europe/Nowhere", "../etc/passwd"} {
		if _, err := LoadZone(bad); !errors.Is(err, ErrZone) {
			t.Errorf("LoadZone(%q): %v", bad, err)
		}
	}
}

func TestShiftBelongsToTheDayItStarts(t *testing.T) {
	c := threeShifts(t, "Europe/London", map[Date]string{{2026, time.December, 25}: "Christmas Day"})
	for _, test := range []struct {
		local, name, day string
	}{
		{"2026-11-25T05:59", "night", "2026-11-24"},
		{"2026-11-25T06:00", "early", "2026-11-25"},
		{"2026-11-25T21:59", "late", "2026-11-25"},
		{"2026-11-25T22:00", "night", "2026-11-25"},
		{"2026-11-28T03:00", "night", "2026-11-27"}, // Saturday morning is Friday's night
		{"2026-11-28T06:00", "", ""},
		{"2026-11-29T23:00", "", ""},                // Sunday night
		{"2026-11-30T05:00", "", ""},                // no shift started on Sunday
		{"2026-12-25T03:00", "night", "2026-12-24"}, // runs into the holiday
		{"2026-12-25T07:00", "", ""},
		{"2026-12-26T03:00", "", ""}, // the holiday's night isn't worked
	} {
		day, clock := local(t, test.local)
		turn, ok := c.ShiftOf(At(day, clock, c.Zone()))
		if ok != (test.name != "") || turn.Name != test.name || turn.Day.String() != test.day {
			t.Errorf("%s: %q of %v, %v, want %q of %s", test.local, turn.Name, turn.Day, ok, test.name, test.day)
		}
	}
	if name, ok := c.Holiday(Date{2026, time.December, 25}); !ok || name != "Christmas Day" {
		t.Errorf("holiday %q, %v", name, ok)
	}
}

func TestNewRefuses(t *testing.T) {
	for name, shifts := range map[string][]Shift{
		"same time":       {{"a", time.Monday, 6 * 60, 14 * 60}, {"b", time.Monday, 13 * 60, 20 * 60}},
		"night and early": {{"a", time.Monday, 22 * 60, 6*60 + 1}, {"b", time.Tuesday, 6 * 60, 14 * 60}},
		"week closes":     {{"a", time.Saturday, 22 * 60, 6 * 60}, {"b", time.Sunday, 5 * 60, 14 * 60}},
		"twice":           {{"a", time.Monday, 6 * 60, 14 * 60}, {"a", time.Monday, 6 * 60, 14 * 60}},
		"bad clock":       {{"a", time.Monday, -1, 14 * 60}},
		"bad end":         {{"a", time.Monday, 6 * 60, 24 * 60}},
		"bad day":         {{"a", 7, 6 * 60, 14 * 60}},
	} {
		if _, err := New("Europe/London", shifts, nil); !errors.Is(err, ErrShift) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := New("Nowhere", nil, nil); !errors.Is(err, ErrZone) {
		t.Errorf("zone: %v", err)
	}
	if _, err := New("UTC", []Shift{{"round the clock", time.Monday, 0, 0}, {"next", time.Tuesday, 0, 60}}, nil); err != nil {
		t.Errorf("a shift of 24 hours: %v", err)
	}
}

func TestAfterWork(t *testing.T) {
	c := threeShifts(t, "Europe/London", map[Date]string{{2026, time.December, 25}: "Christmas Day"})
	for _, test := range []struct {
		from   string
		amount time.Duration
		want   string
	}{
		{"2026-11-25T10:00", 0, "2026-11-25T10:00"},
		{"2026-11-25T10:00", 2 * time.Hour, "2026-11-25T12:00"},
		{"2026-11-25T10:00", 24 * time.Hour, "2026-11-26T10:00"},
		{"2026-11-28T05:00", time.Hour, "2026-11-28T06:00"},     // to the end of Friday's night
		{"2026-11-28T05:00", 2 * time.Hour, "2026-11-30T07:00"}, // over the weekend
		{"2026-11-29T12:00", 0, "2026-11-30T06:00"},             // Sunday: the first working instant
		{"2026-12-25T05:00", 2 * time.Hour, "2026-12-28T07:00"}, // over the holiday
	} {
		day, clock := local(t, test.from)
		got, err := c.AfterWork(At(day, clock, c.Zone()), test.amount)
		if shown := got.In(c.Zone()).Format("2006-01-02T15:04"); err != nil || shown != test.want {
			t.Errorf("%v from %s is %s (%v), want %s", test.amount, test.from, shown, err, test.want)
		}
	}
	idle, err := New("Europe/London", nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := idle.AfterWork(time.Now(), time.Hour); !errors.Is(err, ErrNoWork) {
		t.Errorf("no shifts: %v", err)
	}
	if _, err := idle.NextTurn(time.Now()); !errors.Is(err, ErrNoWork) {
		t.Errorf("no shifts: %v", err)
	}
	if _, ok := idle.ShiftOf(time.Now()); ok {
		t.Error("a shift in an empty calendar")
	}
}

// Working time, shift and finish agree with each other and with a count minute
// by minute, over clock changes.
func TestWorkingTimeAgreesWithCounting(t *testing.T) {
	calendars := map[string]*Calendar{}
	for _, zone := range []string{"Europe/London", "Australia/Sydney", "America/St_Johns", "Australia/Lord_Howe"} {
		calendars[zone] = threeShifts(t, zone, map[Date]string{{2026, time.March, 27}: "x", {2026, time.October, 23}: "x"})
	}
	rapid.Check(t, func(t *rapid.T) {
		zone := rapid.SampledFrom([]string{"Europe/London", "Australia/Sydney", "America/St_Johns", "Australia/Lord_Howe"}).Draw(t, "zone")
		c := calendars[zone]
		change := rapid.SampledFrom([]Date{{2026, 3, 8}, {2026, 3, 29}, {2026, 4, 5}, {2026, 10, 4}, {2026, 10, 25}, {2026, 11, 1}}).Draw(t, "change")
		from := At(change.AddDays(-2), 0, c.Zone()).Add(time.Duration(rapid.IntRange(0, 3000).Draw(t, "from")) * time.Minute)
		minutes := rapid.IntRange(0, 6000).Draw(t, "minutes")
		to := from.Add(time.Duration(minutes) * time.Minute)
		var want time.Duration
		for at := from; at.Before(to); at = at.Add(time.Minute) {
			if _, ok := c.ShiftOf(at); ok {
				want += time.Minute
			}
		}
		got := c.WorkingTime(from, to)
		if got != want {
			t.Fatalf("%s, %v to %v: %v, counted %v", zone, from, to, got, want)
		}
		if c.WorkingTime(to, from) != 0 {
			t.Fatal("working time backwards")
		}
		done, err := c.AfterWork(from, got)
		if err != nil || got > 0 && (done.After(to) || c.WorkingTime(from, done) != got) {
			t.Fatalf("%v of work from %v is done at %v (%v)", got, from, done, err)
		}
	})
}

// However the wall time is asked for, At gives an instant that shows it, unless
// no instant does.
func TestAtShowsTheWallTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom([]string{"Europe/London", "Australia/Sydney", "Australia/Lord_Howe", "America/St_Johns", "Asia/Kathmandu"}).Draw(t, "zone")
		z, err := LoadZone(name)
		if err != nil {
			t.Fatal(err)
		}
		instant := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC).Add(time.Duration(rapid.IntRange(0, 366*24*60).Draw(t, "minute")) * time.Minute)
		shown := instant.In(z)
		at := At(DateOf(instant, z), Clock(shown.Hour()*60+shown.Minute()), z)
		if got, want := fmt.Sprint(at.Date())+at.Format("15:04"), fmt.Sprint(shown.Date())+shown.Format("15:04"); got != want {
			t.Fatalf("%s: %v shows %s, want %s", name, at, got, want)
		}
		if at.After(instant) {
			t.Fatalf("%v is not the first coming of %v", at, instant)
		}
	})
}

// Whatever is sent as a moment, what is read is the same moment when written
// and read again.
func FuzzParseInstant(f *testing.F) {
	for _, s := range []string{"", "2026-11-25T08:00:00Z", "1990-12-31T23:59:60Z", "2026-11-25t08:00:00.5+01:00", "0000-01-01T00:00:00-23:59", "9999-12-31T23:59:60Z"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, err := ParseInstant(s)
		if err != nil {
			if !errors.Is(err, ErrInstant) {
				t.Fatalf("%q: %v", s, err)
			}
			return
		}
		if got.Year() < 1 || got.Year() > 9999 {
			t.Fatalf("%q gives %v", s, got)
		}
		if again, err := ParseInstant(got.Format(time.RFC3339Nano)); err != nil || !again.Equal(got) {
			t.Fatalf("%q gives %v, read again %v (%v)", s, got, again, err)
		}
	})
}
