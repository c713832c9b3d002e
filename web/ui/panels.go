package ui

import "strings"

// Who says who can put a refusal right, and whether anybody can set it aside.
func Who(who string, absolute bool) string {
	who = Capital(who)
	if !absolute {
		return who
	}
	if who != "" && !strings.HasSuffix(who, ".") {
		who += "."
	}
	return strings.TrimSpace(who + " No concession exists for this rule.")
}
