package ui

import "strings"

func (r Refusal) who() string {
	if !r.Absolute {
		return r.Who
	}
	return strings.TrimSpace(r.Who + " No concession exists for this rule.")
}
