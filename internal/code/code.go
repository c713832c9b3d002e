package code

import (
	"fmt"
	"io"
	"slices"
	"strings"
)

// Alphabet is the 31 symbols of a code in the order of their values, 0 to 30.
// Digits and letters that look alike on a dirty ticket (0 O, 1 I L) are left
// out, and 31 is prime, which the check character needs.
const Alphabet = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"

// Length is the number of symbols in a code, kind letter and check character
// included.
const Length = 8

// Unused are the digits and letters that no code holds.
const Unused = "0O1IL"

// Kind says what kind of thing a code names. It is the code's first symbol.
type Kind byte

// The kinds of thing that carry a printed code.
const (
	Pallet      Kind = 'P' // any load carrier: pallet, trolley, box
	Sheet       Kind = 'S' // sheet or bar: one material lot
	Unit        Kind = 'U' // one unit being assembled
	Consignment Kind = 'C' // what leaves on one truck
	Station     Kind = 'T' // the sign at a station
)

var kindNames = map[Kind]string{
	Pallet:      "pallet",
	Sheet:       "sheet or bar",
	Unit:        "unit build",
	Consignment: "consignment",
	Station:     "station",
}

// Kinds lists every kind, in the order of their letters.
func Kinds() []Kind { return []Kind{Consignment, Pallet, Sheet, Station, Unit} }

// String is the kind's name in lower case, such as "pallet".
func (k Kind) String() string {
	if name, ok := kindNames[k]; ok {
		return name
	}
	return fmt.Sprintf("kind %q", rune(k))
}

// Known reports whether k is one of the declared kinds.
func (k Kind) Known() bool { _, ok := kindNames[k]; return ok }

// Code is a valid code in its stored form: eight symbols in upper case without
// separators. Make one with New, Parse or ParseScan only.
type Code string

// Kind is what kind of thing the code names.
func (c Code) Kind() Kind {
	if c == "" {
		return 0
	}
	return Kind(c[0])
}

// Spaced is the code as people read it, in two groups of four: "P4K7 M2QX".
func (c Code) Spaced() string {
	if len(c) != Length {
		return string(c)
	}
	return string(c[:4]) + " " + string(c[4:])
}

// Require returns nil if the code is of one of the wanted kinds, else an
// *Error with the problem WrongKind.
func (c Code) Require(want ...Kind) error {
	if slices.Contains(want, c.Kind()) {
		return nil
	}
	return &Error{Problem: WrongKind, Input: c.Spaced(), Got: c.Kind(), Want: want}
}

// New makes a random code of the given kind from random, which should be
// crypto/rand.Reader. There are 31^6 (about 887 million) codes of a kind; the
// store's unique index catches the rare repeat and the caller tries again. It
// fails only if the kind is unknown or random fails.
func New(kind Kind, random io.Reader) (Code, error) {
	if !kind.Known() {
		return "", fmt.Errorf("make a code: %v is not one of ours", kind)
	}
	for {
		body := make([]byte, Length-1, Length)
		body[0] = byte(kind)
		if err := fill(body[1:], random); err != nil {
			return "", fmt.Errorf("make a code: %w", err)
		}
		c := Code(append(body, checkCharacter(string(body))))
		// A code that still checks after a keyboard exchanged Y and Z could
		// be taken for another, so it is never printed.
		if swapped := swapYZ(string(c)); swapped == string(c) || !valid(swapped) {
			return c, nil
		}
	}
}

// fill draws one symbol for each place of dst. Five random bits give 0 to 31;
// 31 is thrown away so that every symbol is equally likely.
func fill(dst []byte, random io.Reader) error {
	var one [1]byte
	for i := range dst {
		for {
			if _, err := io.ReadFull(random, one[:]); err != nil {
				return err
			}
			if v := int(one[0] & 31); v < len(Alphabet) {
				dst[i] = Alphabet[v]
				break
			}
		}
	}
	return nil
}

// Parse reads a code that somebody typed. It takes lower case, spaces and
// dashes, and nothing else: every single wrong symbol and every exchange of
// two symbols is refused. Errors are *Error with the problem Empty, Foreign or
// Mistyped.
func Parse(s string) (Code, error) {
	text, err := clean(s)
	if err != nil {
		return "", err
	}
	return parseBare(text)
}

// parseBare reads a cleaned text as a code without an address around it.
func parseBare(text string) (Code, error) {
	symbols := squeeze(text)
	switch {
	case looksForeign(symbols):
		return "", &Error{Problem: Foreign, Input: text}
	case strings.ContainsAny(symbols, Unused):
		return "", &Error{Problem: Mistyped, Input: text, Reason: LookAlike}
	case len(symbols) != Length:
		return "", &Error{Problem: Mistyped, Input: text, Reason: WrongLength, Symbols: len(symbols)}
	case !valid(symbols):
		e := &Error{Problem: Mistyped, Input: text, Reason: WrongCheck}
		if swapped := swapYZ(symbols); valid(swapped) && Kind(swapped[0]).Known() {
			e.Maybe = Code(swapped)
		}
		return "", e
	case !Kind(symbols[0]).Known():
		return "", &Error{Problem: Foreign, Input: text}
	}
	return Code(symbols), nil
}

// looksForeign reports whether symbols can't be a code with a slip in it:
// other characters, digits only (an EAN), or far too short or long.
func looksForeign(symbols string) bool {
	letters := 0
	for _, r := range symbols {
		switch {
		case r >= 'A' && r <= 'Z':
			letters++
		case r < '0' || r > '9':
			return true
		}
	}
	return letters == 0 || len(symbols) < Length-2 || len(symbols) > Length+2
}

// squeeze drops the spaces and dashes people put between groups.
func squeeze(text string) string {
	return strings.Map(func(r rune) rune {
		switch r {
		case ' ', '-', '\u00a0', '\u2010', '\u2011', '\u2012', '\u2013':
			return -1
		}
		return r
	}, text)
}
