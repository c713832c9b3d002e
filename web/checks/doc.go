// Package checks asks the characteristics of a step on a tablet's page: a tick,
// or a reading with its limits and its gauge. The page loads checks.js.
package checks

import "strconv"

// limitOf writes a limit for the browser to compare with; empty: none.
func limitOf(v *float64) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(*v, 'f', -1, 64)
}
