package code

import (
	"maps"
	"strings"
	"unicode"
)

// A keyboard scanner sends key positions, not characters. If scanner and
// computer are set to different countries, the text arrives changed:
//
//	printed                        HTTPS://HOST:8443/P/P4K7M2QY/2
//	German computer, US scanner    HTTPSÖ--HOSTÖ8443-P-P4K7M2QZ-2
//	French computer, US scanner    HTTPSM!!HOSTMç''"!P!P'Kè?éAY!é
//	US computer, German scanner    HTTPS>&&HOST>8443&P&P4K7M2QZ&2
//	US computer, French scanner    HTTPS.>>HOST.*$$#>P>P$K&:@AY>@
//	shift sent inverted            https;??host;*$$#?p?p$k&m@qy?@
//
// and with caps lock the letters arrive in the other case, on a French
// computer the digits too. Each table below undoes one of these. The tables
// follow the national layouts as drivers ship them (common practice, no
// source): German T1, French AZERTY, US. The text after undoing must begin
// with HTTP:// or HTTPS://, which tells the tables apart.

// The keys of a US keyboard by position, and what our addresses mean by them.
// Shift is ignored: ";" stands for its shifted ":".
const (
	usKeys    = "1234567890-=QWERTYUIOP[]ASDFGHJKL:'ZXCVBNM,./"
	usPlain   = "1234567890-=qwertyuiop[]asdfghjkl;'zxcvbnm,./"
	usShift   = "!@#$%^&*()_+QWERTYUIOP{}ASDFGHJKL:\"ZXCVBNM<>?"
	deuPlain  = "1234567890ß´qwertzuiopü+asdfghjklöäyxcvbnm,.-"
	deuShift  = "!\"§$%&/()=?`QWERTZUIOPÜ*ASDFGHJKLÖÄYXCVBNM;:_"
	fraPlain  = "&é\"'(-è_çà)=azertyuiop^$qsdfghjklmùwxcvbn,;:!"
	fraShift  = "1234567890°+AZERTYUIOP¨£QSDFGHJKLM%WXCVBN?./§"
	fromDeu   = "YZ&>/"
	fromDeuTo = "ZY/:-"
	fromFra   = "QAWZ!@#$%^&*():>.<6"
	fromFraTo = "AQZW1234567890M/:.-"
)

// layouts are the tables, from an upper-cased character as it arrived to the
// one that was printed. Characters a table doesn't name stay.
var layouts = []map[rune]rune{
	table(deuPlain, usKeys, deuShift, usKeys),
	table(fraPlain, usKeys, fraShift, usKeys),
	table(fromDeu, fromDeuTo),
	table(fromFra, fromFraTo),
	table(usPlain, usKeys, usShift, usKeys),
}

// table joins pairs of equally long strings: what arrived, what was printed.
func table(pairs ...string) map[rune]rune {
	t := map[rune]rune{}
	for i := 0; i < len(pairs); i += 2 {
		printed := []rune(pairs[i+1])
		for j, arrived := range []rune(pairs[i]) {
			t[unicode.ToUpper(arrived)] = printed[j]
		}
	}
	return t
}

func undo(text string, layout map[rune]rune) string {
	return strings.Map(func(r rune) rune {
		if printed, ok := layout[r]; ok {
			return printed
		}
		return r
	}, text)
}

// unmangle tries to read a text as one changed by a keyboard. It reports found
// if at least one reading is valid; two different ones are an error.
func unmangle(text string) (scan Scan, found bool, err error) {
	readings := map[Scan]bool{}
	collect := func(scan Scan, err error) {
		if err == nil {
			readings[scan] = true
		}
	}
	for _, layout := range layouts {
		if was := undo(text, layout); hasScheme(was) {
			collect(parseAddress(was))
		}
	}
	if len(readings) == 0 && strings.HasPrefix(text, "HTTP") {
		// A layout without a table: most leave letters and digits alone but
		// for Y and Z, so whatever is neither stands for a separator.
		parts := strings.FieldsFunc(text, func(r rune) bool { return !isSymbol(r) })
		collect(parseParts(text, parts))
		for i := range parts {
			parts[i] = swapYZ(parts[i])
		}
		collect(parseParts(text, parts))
	}
	if len(readings) == 0 && strings.ContainsFunc(text, neverTyped) {
		// A bare code with marks nobody types in one: a French computer's
		// digits, or the other way round.
		for _, layout := range layouts {
			if c, err := parseBare(undo(text, layout)); err == nil {
				readings[Scan{Code: c}] = true
			}
		}
	}
	switch len(readings) {
	case 0:
		return Scan{}, false, nil
	case 1:
		for scan := range maps.Keys(readings) {
			return scan, true, nil
		}
	}
	return Scan{}, true, &Error{Problem: Mistyped, Input: text, Reason: TwoReadings}
}

func isSymbol(r rune) bool { return r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' }

// neverTyped reports a character that is neither a code's nor put between its
// groups.
func neverTyped(r rune) bool {
	return !isSymbol(r) && squeeze(string(r)) != ""
}
