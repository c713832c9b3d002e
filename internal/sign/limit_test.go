package sign

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

var start = time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)

func TestPersonWaitsDouble(t *testing.T) {
	var s Tries
	now := start
	for i, want := range []time.Duration{0, 0, 0, 0, 1, 2, 4, 8, 16, 32, 60, 60} {
		if v := PersonLimit.May(s, now); v != (Verdict{}) {
			t.Fatalf("before try %d: %+v", i+1, v)
		}
		if left := PersonLimit.Left(s, now); left != max(0, 4-i) {
			t.Errorf("before try %d: %d left", i+1, left)
		}
		s = PersonLimit.After(s, false, now)
		if v := PersonLimit.May(s, now); v.Wait != want*time.Minute || v.Locked {
			t.Fatalf("after %d wrong: %+v, want %d min", i+1, v, want)
		}
		if want > 0 {
			if v := PersonLimit.May(s, now.Add(want*time.Minute-1)); v.Wait != 1 {
				t.Fatalf("a moment early after %d wrong: %+v", i+1, v)
			}
		}
		now = now.Add(want * time.Minute)
	}
	if s = PersonLimit.After(s, true, now); s != (Tries{}) {
		t.Errorf("after a right PIN: %+v", s)
	}
}

func TestPersonLocksAtAHundred(t *testing.T) {
	var s Tries
	now := start
	for i := range 100 {
		if v := PersonLimit.May(s, now); v != (Verdict{}) {
			t.Fatalf("before try %d: %+v", i+1, v)
		}
		s = PersonLimit.After(s, false, now)
		now = now.Add(time.Hour)
	}
	for _, later := range []time.Duration{0, time.Hour, 10000 * time.Hour} {
		if v := PersonLimit.May(s, now.Add(later)); !v.Locked {
			t.Errorf("%v later: %+v, want locked", later, v)
		}
	}
	if after := PersonLimit.After(s, true, now); after != s {
		t.Error("a locked state changed")
	}
	if v := PersonLimit.May(Tries{}, now); v != (Verdict{}) {
		t.Errorf("after a reset: %+v", v)
	}
}

func TestTabletForgetsWithTimeOnly(t *testing.T) {
	var s Tries
	for range 12 {
		s = TabletLimit.After(s, false, start)
	}
	if v := TabletLimit.May(s, start); v.Wait != 4*time.Minute {
		t.Errorf("after 12 wrong: %+v, want 4 min", v)
	}
	if after := TabletLimit.After(s, true, start); after.Wrong != 12 {
		t.Errorf("a right PIN cleared the tablet: %+v", after)
	}
	// Once free it stays free, though the count fades in steps.
	for m := 4; m <= 130; m++ {
		if v := TabletLimit.May(s, start.Add(time.Duration(m)*time.Minute)); v != (Verdict{}) {
			t.Errorf("%d min later: %+v", m, v)
		}
	}
	if after := TabletLimit.After(s, false, start.Add(35*time.Minute)); after.Wrong != 10 {
		t.Errorf("35 min forgive 3 of 12 and one is added: %+v", after)
	}
	if after := TabletLimit.After(s, false, start.Add(24*time.Hour)); after.Wrong != 1 {
		t.Errorf("a day later: %+v", after)
	}
}

// However tries are timed, nobody gets more wrong tries than the limit, and
// after the free ones no two closer than the first wait.
func TestNobodyTriesFasterThanTheLimit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		limit := rapid.SampledFrom([]Limit{PersonLimit, TabletLimit}).Draw(t, "limit")
		var s Tries
		now := start
		var wrong []time.Time
		for range rapid.IntRange(1, 400).Draw(t, "steps") {
			now = now.Add(time.Duration(rapid.IntRange(0, 5400).Draw(t, "seconds")) * time.Second)
			if limit.May(s, now) != (Verdict{}) {
				continue
			}
			before := limit.Left(s, now)
			s = limit.After(s, false, now)
			if before == 0 && limit.May(s, now).Wait < limit.First && !limit.May(s, now).Locked {
				t.Fatalf("no wait after a wrong try with none left: %+v", s)
			}
			wrong = append(wrong, now)
		}
		if limit.Forget == 0 && len(wrong) > limit.Lock {
			t.Fatalf("%d wrong tries passed, want at most %d", len(wrong), limit.Lock)
		}
		if s.Wrong > limit.Lock {
			t.Fatalf("state beyond the lock: %+v", s)
		}
	})
}

func TestTooManySentences(t *testing.T) {
	for _, test := range []struct {
		err  TooManyError
		want string
	}{
		{TooManyError{Verdict: Verdict{Wait: 61 * time.Second}}, "Wait 2 minutes"},
		{TooManyError{Verdict: Verdict{Wait: 500 * time.Millisecond}}, "Wait 1 second,"},
		{TooManyError{Verdict: Verdict{Wait: time.Minute}}, "Wait 60 seconds"},
		{TooManyError{Verdict: Verdict{Locked: true}}, "this badge is locked"},
		{TooManyError{Verdict: Verdict{Locked: true}, Tablet: true}, "this tablet is locked"},
	} {
		if got := test.err.Error(); !strings.Contains(got, test.want) || !strings.Contains(got, "Nothing was signed.") {
			t.Errorf("%q lacks %q", got, test.want)
		}
	}
}
