package ui

import (
	"strconv"
	"time"

	"tagalong/internal/app"
)

// SpotText says where parts that are not here are, what keeps them since when,
// what is still to be done to them, and how long that usually takes. When they
// will come nobody knows: no day is made up.
func SpotText(s app.Spot, now time.Time) string {
	out := strconv.Itoa(s.Qty)
	if s.Remake {
		out = "remake, " + out
	}
	if s.Pallet != "" {
		out += " on " + Spaced(string(s.Pallet))
	}
	if s.Place != "" {
		out += " " + s.Place
	}
	switch {
	case s.Held:
		out += ", held: " + s.Why
	case s.Stage != "":
		out += ", waits for " + s.Stage
		if !s.Since.IsZero() {
			out += " since " + Moment(s.Since, now)
		}
		if len(s.Then) > 0 {
			out += ", then " + List(s.Then...)
		}
		out += Usually(s.Usual)
	}
	return out
}

// Usually says how long it usually takes until parts are here.
func Usually(d time.Duration) string {
	if d <= 0 {
		return ""
	}
	return "; usually " + Lasting(d) + " more"
}
