package code

import "strings"

// The check character makes the weighted sum of all eight symbol values a
// multiple of 31. The weights are 8, 7 … 1 from the left: all different, none
// a multiple of 31, so with 31 prime
//
//   - one wrong symbol changes the sum by w·d, never a multiple of 31;
//   - exchanging two symbols, near or far, changes it by (w1-w2)·d, likewise;
//   - two equal symbols both read as another change it by (w1+w2)·d, and no
//     two weights add to 31, so that is caught too.

// valid reports whether symbols are eight symbols of the alphabet with the
// right check character.
func valid(symbols string) bool {
	if len(symbols) != Length {
		return false
	}
	sum, ok := weightedSum(symbols)
	return ok && sum%len(Alphabet) == 0
}

// checkCharacter is the symbol that completes a body of seven symbols, all of
// which must be in the alphabet.
func checkCharacter(body string) byte {
	sum, _ := weightedSum(body)
	return Alphabet[(len(Alphabet)-sum%len(Alphabet))%len(Alphabet)]
}

// weightedSum adds value times weight over symbols, which start at the left of
// a code. It reports false if a symbol is outside the alphabet.
func weightedSum(symbols string) (sum int, ok bool) {
	for i := range len(symbols) {
		v := strings.IndexByte(Alphabet, symbols[i])
		if v < 0 {
			return 0, false
		}
		sum += v * (Length - i)
	}
	return sum, true
}

// swapYZ exchanges Y and Z, the commonest thing a keyboard set to another
// country does to a code.
func swapYZ(symbols string) string {
	return strings.Map(func(r rune) rune {
		switch r {
		case 'Y':
			return 'Z'
		case 'Z':
			return 'Y'
		}
		return r
	}, symbols)
}
