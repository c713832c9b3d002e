package code

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// MaxScan is the longest text, in characters, that is looked at. A longer one
// is foreign: our longest address is far shorter.
const MaxScan = 200

// Scan is what a scanned symbol or a typed text names.
type Scan struct {
	Code  Code
	Print int // number of the print that was scanned, from 1; 0 if the text names none
}

// ParseScan reads what came from a scanner, a camera or fingers.
//
// It takes a bare code as Parse does, and the address inside our QR symbols,
// whose scheme and host it ignores: the ticket outlives the server's name. An
// address that a keyboard scanner mangled is put right with the tables in
// layouts.go; it is taken only if exactly one reading is valid. A bare code is
// never put right that way while all its characters could be a code's, since
// then a slip of the finger could turn into another pallet.
//
// Errors are *Error with the problem Empty, Foreign or Mistyped.
func ParseScan(s string) (Scan, error) {
	text, err := clean(s)
	if err != nil {
		return Scan{}, err
	}
	if strings.Contains(text, "/") {
		scan, err := parseAddress(text)
		if err == nil || hasScheme(text) {
			return scan, err
		}
	}
	if scan, found, err := unmangle(text); found {
		return scan, err
	}
	c, err := parseBare(text)
	if err != nil {
		return Scan{}, err
	}
	return Scan{Code: c}, nil
}

// clean trims and upper-cases a text and refuses an empty or overlong one.
// Control characters (a scanner's line end or group separator) are dropped, as
// is the AIM symbology identifier "]Qn" of ISO/IEC 15424 that some scanners
// put in front of a QR symbol's text.
func clean(s string) (string, error) {
	if len(s) > MaxScan*utf8.UTFMax || utf8.RuneCountInString(s) > MaxScan {
		runes := []rune(s[:min(len(s), MaxScan)])
		return "", &Error{Problem: Foreign, Input: strings.ToValidUTF8(string(runes), "")}
	}
	text := strings.Map(func(r rune) rune {
		if r == utf8.RuneError || (unicode.IsControl(r) && r != '\t') {
			return -1
		}
		return unicode.ToUpper(r)
	}, s)
	text = strings.TrimSpace(text)
	if rest, ok := strings.CutPrefix(text, "]Q"); ok && rest != "" && rest[0] >= '0' && rest[0] <= '9' {
		text = strings.TrimSpace(rest[1:])
	}
	if text == "" {
		return "", &Error{Problem: Empty}
	}
	return text, nil
}

func hasScheme(text string) bool {
	return strings.HasPrefix(text, "HTTPS://") || strings.HasPrefix(text, "HTTP://")
}

// parseAddress reads …/K/CODE or …/K/CODE/PRINT, where K repeats the code's
// kind letter.
func parseAddress(text string) (Scan, error) {
	return parseParts(text, strings.Split(strings.TrimSuffix(text, "/"), "/"))
}

// parseParts reads the last two or three parts of an address.
func parseParts(text string, parts []string) (Scan, error) {
	foreign := &Error{Problem: Foreign, Input: text}
	if n := len(parts); n >= 3 && isKind(parts[n-3]) {
		c, err := parsePart(parts[n-3], parts[n-2])
		if err != nil {
			return Scan{}, err
		}
		number, ok := parsePrint(parts[n-1])
		if !ok {
			return Scan{}, foreign
		}
		return Scan{Code: c, Print: number}, nil
	} else if n >= 2 && isKind(parts[n-2]) {
		c, err := parsePart(parts[n-2], parts[n-1])
		return Scan{Code: c}, err
	}
	return Scan{}, foreign
}

func parsePart(kind, symbols string) (Code, error) {
	c, err := parseBare(symbols)
	if err != nil {
		return "", err
	}
	if string(c[:1]) != kind {
		return "", &Error{Problem: Foreign, Input: kind + "/" + symbols}
	}
	return c, nil
}

func isKind(part string) bool { return len(part) == 1 && Kind(part[0]).Known() }

// parsePrint reads a print number: 1 to 999999 without leading zeros.
func parsePrint(part string) (int, bool) {
	n, err := strconv.Atoi(part)
	return n, err == nil && n >= 1 && n <= MaxPrint && strconv.Itoa(n) == part
}
