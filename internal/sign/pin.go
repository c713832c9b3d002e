package sign

import (
	"errors"
	"slices"
	"strings"
)

// PINLength is the number of digits of a PIN.
const PINLength = 6

// Errors of PINs. Their texts are sentences for the person at the tablet.
var (
	ErrPINShape = errors.New("a PIN has exactly six digits. Nothing was signed. Type your six digits again")
	ErrPINWeak  = errors.New("that PIN is among the first anyone would try. It was not kept. Choose six digits without a run, a repeat or a pattern of the keypad")
)

// PIN is a person's six digits. Neither logs nor errors show them.
type PIN struct{ digits string }

// ParsePIN reads exactly six ASCII digits, with blanks around them. The error
// is ErrPINShape.
func ParsePIN(text string) (PIN, error) {
	text = strings.TrimSpace(text)
	if len(text) != PINLength || strings.ContainsFunc(text, func(r rune) bool { return r < '0' || r > '9' }) {
		return PIN{}, ErrPINShape
	}
	return PIN{digits: text}, nil
}

// String hides the digits.
func (p PIN) String() string { return "PIN (hidden)" }

// GoString hides the digits from %#v too.
func (p PIN) GoString() string { return p.String() }

// CheckNew refuses a PIN that anyone would try first, as the blocklist rule of
// NIST SP 800-63B-4 asks: one digit repeated, a straight run, a short group
// repeated, a mirrored or doubled group, and paths over the keypad. The error
// is ErrPINWeak. What counts as a pattern is our choice (no source gives a
// list for six digits); it leaves more than 99 % of all PINs.
func (p PIN) CheckNew() error {
	d := p.digits
	switch {
	case len(d) != PINLength:
		return ErrPINShape
	case isRun(d), repeats(d, 1), repeats(d, 2), repeats(d, 3), isMirror(d), isDoubled(d), isKeypadPath(d):
		return ErrPINWeak
	}
	return nil
}

// isRun reports a constant step up or down, past 9 to 0 included: 123456,
// 987654, 890123, 246802.
func isRun(d string) bool {
	step := (d[1] - d[0] + 10) % 10
	for i := 2; i < len(d); i++ {
		if (d[i]-d[i-1]+10)%10 != step {
			return false
		}
	}
	return true
}

// repeats reports a group of n digits over and over: 111111, 121212, 123123.
func repeats(d string, n int) bool {
	return strings.Repeat(d[:n], len(d)/n) == d
}

// isMirror reports the same digits from either end: 123321.
func isMirror(d string) bool {
	return d[0] == d[5] && d[1] == d[4] && d[2] == d[3]
}

// isDoubled reports each digit twice or three times: 112233, 111222.
func isDoubled(d string) bool {
	pairs := d[0] == d[1] && d[2] == d[3] && d[4] == d[5]
	return pairs || d[:3] == strings.Repeat(d[:1], 3) && d[3:] == strings.Repeat(d[3:4], 3)
}

// isKeypadPath reports two lines of the keypad one after the other: columns,
// rows and diagonals, either way.
func isKeypadPath(d string) bool {
	lines := []string{"147", "258", "369", "123", "456", "789", "159", "357"}
	isLine := func(s string) bool {
		return slices.Contains(lines, s) || slices.Contains(lines, string([]byte{s[2], s[1], s[0]}))
	}
	return isLine(d[:3]) && isLine(d[3:])
}
