package sign

import (
	"crypto/sha256"
	"crypto/subtle"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
)

// OneTimeLife is how long a one-time code can be used.
const OneTimeLife = time.Hour

// Purpose says what a one-time code is for. A code for one is worthless for
// the other.
type Purpose string

// The uses of one-time codes.
const (
	EnrolTablet Purpose = "enrol a tablet"
	SetPIN      Purpose = "set a PIN"
)

// Errors of one-time codes. Their texts are sentences for the person typing.
var (
	ErrOneTimeShape   = errors.New("a one-time code has eight letters and digits, without 0, O, 1, I and L. Nothing was changed. Type it again")
	ErrOneTimeWrong   = errors.New("that one-time code is not known here. Nothing was changed. Type it again, or ask for a new one")
	ErrOneTimeExpired = errors.New("that one-time code is older than an hour. Nothing was changed. Ask for a new one")
	ErrOneTimeUsed    = errors.New("that one-time code was used before. Nothing was changed. Ask for a new one")
)

// The alphabet of one-time codes: 31 symbols that are told apart on a screen.
// Eight of them are 39.6 bits, above the 20 that OWASP ASVS 5.0 (6.5.4) asks.
const (
	oneTimeAlphabet = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
	oneTimeLength   = 8
)

// OneTime is a code shown once on a screen and typed once, within an hour.
type OneTime struct{ symbols string }

// OneTimeHash is what the store keeps and looks up: HMAC-SHA-256 under the
// current server key, so a copied database doesn't give codes away.
type OneTimeHash [sha256.Size]byte

// NewOneTime makes a code from random, which should be crypto/rand.Reader.
func NewOneTime(random io.Reader) (OneTime, error) {
	symbols := make([]byte, 0, oneTimeLength)
	var one [1]byte
	for len(symbols) < oneTimeLength {
		if _, err := io.ReadFull(random, one[:]); err != nil {
			return OneTime{}, fmt.Errorf("make a one-time code: %w", err)
		}
		// Five bits give 0 to 31; 31 is thrown away to keep it even.
		if v := int(one[0] & 31); v < len(oneTimeAlphabet) {
			symbols = append(symbols, oneTimeAlphabet[v])
		}
	}
	return OneTime{symbols: string(symbols)}, nil
}

// ParseOneTime reads a typed code: either case, with spaces or dashes. The
// error is ErrOneTimeShape.
func ParseOneTime(text string) (OneTime, error) {
	if len(text) > 4*oneTimeLength {
		return OneTime{}, ErrOneTimeShape
	}
	symbols := strings.NewReplacer(" ", "", "-", "").Replace(strings.ToUpper(strings.TrimSpace(text)))
	if len(symbols) != oneTimeLength || strings.Trim(symbols, oneTimeAlphabet) != "" {
		return OneTime{}, ErrOneTimeShape
	}
	return OneTime{symbols: symbols}, nil
}

// Text is the code as shown, in two groups of four.
func (c OneTime) Text() string { return c.symbols[:4] + "-" + c.symbols[4:] }

// String hides the code.
func (c OneTime) String() string { return "one-time code (hidden)" }

// GoString hides the code from %#v too.
func (c OneTime) GoString() string { return c.String() }

// Hash is what to store or look up for a purpose.
func (r Keyring) Hash(purpose Purpose, c OneTime) OneTimeHash {
	return r.current.mac("one-time: "+string(purpose), []byte(c.symbols))
}

// StoredOneTime is a stored code's row.
type StoredOneTime struct {
	Hash    OneTimeHash
	MadeAt  time.Time
	UsedAt  time.Time // zero until used
	Purpose Purpose
}

// Check reports whether a typed code is good for a purpose at a moment: nil,
// or ErrOneTimeWrong, ErrOneTimeUsed or ErrOneTimeExpired. The store marks it
// used in the same transaction as what it allowed.
func (r Keyring) Check(purpose Purpose, typed OneTime, stored StoredOneTime, now time.Time) error {
	h := r.Hash(purpose, typed)
	switch {
	case stored.Purpose != purpose || subtle.ConstantTimeCompare(h[:], stored.Hash[:]) != 1:
		return ErrOneTimeWrong
	case !stored.UsedAt.IsZero():
		return ErrOneTimeUsed
	case now.Before(stored.MadeAt) || !now.Before(stored.MadeAt.Add(OneTimeLife)):
		return ErrOneTimeExpired
	}
	return nil
}
