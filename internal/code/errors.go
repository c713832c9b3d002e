package code

import (
	"fmt"
	"strings"
)

// Problem tells apart the ways in which a text fails to be the code wanted.
type Problem string

// The problems an *Error can name.
const (
	Empty     Problem = "empty"      // nothing was typed or scanned
	Foreign   Problem = "foreign"    // not ours: an article number, another web address
	Mistyped  Problem = "mistyped"   // the shape of ours, but a symbol is wrong
	WrongKind Problem = "wrong-kind" // ours, but names another kind of thing
)

// Reason says what gave a mistyped code away.
type Reason string

// The reasons for Mistyped.
const (
	LookAlike   Reason = "look-alike"   // holds one of 0 O 1 I L, which no code uses
	WrongLength Reason = "wrong-length" // a symbol missing or too many
	WrongCheck  Reason = "wrong-check"  // the check character doesn't fit the others
	TwoReadings Reason = "two-readings" // the keyboard's changes can be undone in two ways
)

// Error says why a text is not the code wanted. Its text is a sentence for the
// person at the tablet.
type Error struct {
	Problem Problem
	Input   string // what was read, shortened for showing
	Reason  Reason // for Mistyped only
	Symbols int    // for WrongLength: how many symbols there were
	Maybe   Code   // for WrongCheck: the code if the keyboard exchanged Y and Z, else ""
	Got     Kind   // for WrongKind
	Want    []Kind // for WrongKind
}

// Error is what happened, what was kept and what to do next.
func (e *Error) Error() string {
	switch e.Problem {
	case Empty:
		return "No code was read and nothing was recorded. Scan the QR symbol again, or type the eight symbols printed beside it."
	case WrongKind:
		return fmt.Sprintf("%s is the code of a %v, and a %s is needed here. Nothing was recorded. Scan the code on the %s.",
			e.Input, e.Got, joinKinds(e.Want), joinKinds(e.Want))
	case Mistyped:
		return fmt.Sprintf("%s can't be read as one of our codes: %s. Nothing was recorded. %s",
			quote(e.Input), e.slip(), e.advice())
	default:
		return fmt.Sprintf("%s is not one of our codes. Nothing was recorded. Scan the QR symbol on our own ticket; our codes look like P4K7 M2QX.", quote(e.Input))
	}
}

// slip names what is wrong with a mistyped code.
func (e *Error) slip() string {
	switch e.Reason {
	case LookAlike:
		return "our codes never use 0 or O, 1, I or L"
	case WrongLength:
		return fmt.Sprintf("it has %d symbols and our codes have %d", e.Symbols, Length)
	case TwoReadings:
		return "the scanner's keyboard setting changed it, and it can be read in two ways"
	default:
		return "one symbol is wrong, or two changed places"
	}
}

// advice is the next thing to do about a mistyped code.
func (e *Error) advice() string {
	switch {
	case e.Maybe != "":
		return fmt.Sprintf("If the ticket says %s, this keyboard exchanges Y and Z: type that code with the screen keyboard.", e.Maybe.Spaced())
	case e.Reason == LookAlike:
		return "Look again for 8, D, Q, 7, J or T, or scan the QR symbol."
	default:
		return "Compare it with the ticket and type it again, or scan the QR symbol."
	}
}

func joinKinds(kinds []Kind) string {
	names := make([]string, len(kinds))
	for i, k := range kinds {
		names[i] = k.String()
	}
	return strings.Join(names, " or ")
}

// quote puts a shortened input in quotation marks.
func quote(s string) string {
	const most = 40
	if runes := []rune(s); len(runes) > most {
		s = string(runes[:most]) + "…"
	}
	return "“" + s + "”"
}
