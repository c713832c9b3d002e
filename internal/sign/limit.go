package sign

import (
	"fmt"
	"time"
)

// Limit says how many wrong PINs are let pass and how long one then waits.
type Limit struct {
	Free    int           // wrong tries in a row before the first wait
	First   time.Duration // the first wait; each further wrong try doubles it
	Longest time.Duration // no wait is longer
	Lock    int           // wrong tries that lock until somebody resets

	// Forget, if not zero, takes one wrong try off for each such span without
	// another. If it is zero, a right PIN takes all off.
	Forget time.Duration
}

// PersonLimit holds for one person on all tablets: wrong tries in a row, at
// most 100 (NIST SP 800-63B-4 section 3.2.2), after which the PIN must be reset
// by two people. A hundred tries at a random PIN succeed once in 10,000.
var PersonLimit = Limit{Free: 5, First: time.Minute, Longest: time.Hour, Lock: 100}

// TabletLimit holds for one tablet, whoever tries. A right PIN clears nothing,
// else someone could try at others' PINs between sign-offs of their own; time
// does. The figures are our choice.
var TabletLimit = Limit{Free: 10, First: time.Minute, Longest: time.Hour, Lock: 100, Forget: 10 * time.Minute}

// Tries is the state a store keeps for one person or one tablet. Its zero value
// is a fresh start, and what a reset writes.
type Tries struct {
	Wrong int
	Since time.Time // when the last one was, moved on by what time has forgiven
	Until time.Time // no try before this moment; may be past
}

// Verdict says whether a PIN may be tried.
type Verdict struct {
	Locked bool
	Wait   time.Duration // how long yet; 0 if it may be tried now or is locked
}

// May judges before a PIN is looked at. A verdict other than the zero value
// means it must not be: a try while waiting is neither checked nor counted.
func (l Limit) May(t Tries, now time.Time) Verdict {
	if t.Wrong >= l.Lock {
		return Verdict{Locked: true}
	}
	return Verdict{Wait: max(0, t.Until.Sub(now))}
}

// After is the state once a PIN was found right or wrong. To keep many tries at
// the same moment from passing one May, the store holds the row locked from May
// to After.
func (l Limit) After(t Tries, right bool, now time.Time) Tries {
	if t.Wrong >= l.Lock {
		return t
	}
	t = l.faded(t, now)
	switch {
	case !right:
		wrong := t.Wrong + 1
		return Tries{Wrong: wrong, Since: now, Until: now.Add(l.wait(wrong))}
	case l.Forget == 0:
		return Tries{}
	}
	return t
}

// faded takes off what time has forgiven.
func (l Limit) faded(t Tries, now time.Time) Tries {
	if l.Forget == 0 || t.Wrong == 0 {
		return t
	}
	spans := max(0, int64(now.Sub(t.Since)/l.Forget))
	if spans >= int64(t.Wrong) {
		return Tries{Until: t.Until}
	}
	return Tries{Wrong: t.Wrong - int(spans), Since: t.Since.Add(time.Duration(spans) * l.Forget), Until: t.Until}
}

// wait is none before the Free-th wrong try, First with it, and doubles with
// each further one, up to Longest.
func (l Limit) wait(wrong int) time.Duration {
	if wrong < l.Free {
		return 0
	}
	d := l.First
	for i := l.Free; i < wrong && d < l.Longest; i++ {
		d *= 2
	}
	return min(d, l.Longest)
}

// Left is how many wrong tries pass before the next wait: 0 if the next wrong
// one waits.
func (l Limit) Left(t Tries, now time.Time) int {
	return max(0, l.Free-1-l.faded(t, now).Wrong)
}

// TooManyError says that a PIN was not looked at because of earlier wrong ones.
type TooManyError struct {
	Verdict Verdict
	Tablet  bool // the tablet's limit, else the person's
}

// Error is the sentence for the person at the tablet.
func (e *TooManyError) Error() string {
	subject, reset := "this badge", "two people who may reset PINs"
	if e.Tablet {
		subject, reset = "this tablet", "the office, who can enrol the tablet again"
	}
	if e.Verdict.Locked {
		return fmt.Sprintf("Too many wrong PINs: %s is locked. Nothing was signed. Ask %s.", subject, reset)
	}
	return fmt.Sprintf("Too many wrong PINs on %s. Nothing was signed. Wait %s, then try again.", subject, spoken(e.Verdict.Wait))
}

// spoken rounds a wait up to whole seconds under a minute, else whole minutes.
func spoken(d time.Duration) string {
	if d <= time.Minute {
		return plural(int((d+time.Second-1)/time.Second), "second")
	}
	return plural(int((d+time.Minute-1)/time.Minute), "minute")
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}
