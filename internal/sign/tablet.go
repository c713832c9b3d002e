package sign

import (
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
)

// ErrNotTablet says that a browser's secret isn't one of an enrolled tablet.
var ErrNotTablet = errors.New("this device is not enrolled. Nothing was recorded. Ask the office for a one-time code and enrol it to a station")

const tabletBytes = 32 // 256 random bits

// TabletSecret is what an enrolled tablet proves itself with, in a cookie. The
// store keeps its SHA-256 only.
type TabletSecret struct{ secret [tabletBytes]byte }

// TabletHash is the SHA-256 of a tablet's secret, as stored and looked up.
type TabletHash [sha256.Size]byte

// NewTabletSecret makes a secret from random, which should be
// crypto/rand.Reader.
func NewTabletSecret(random io.Reader) (TabletSecret, error) {
	var s TabletSecret
	if _, err := io.ReadFull(random, s.secret[:]); err != nil {
		return TabletSecret{}, fmt.Errorf("make a tablet secret: %w", err)
	}
	return s, nil
}

// ParseTabletSecret reads what Text wrote. The error is ErrNotTablet.
func ParseTabletSecret(text string) (TabletSecret, error) {
	var s TabletSecret
	enc := base64.RawURLEncoding.Strict()
	if len(text) != enc.EncodedLen(tabletBytes) {
		return TabletSecret{}, ErrNotTablet
	}
	if n, err := enc.Decode(s.secret[:], []byte(text)); err != nil || n != tabletBytes {
		return TabletSecret{}, ErrNotTablet
	}
	return s, nil
}

// Text is the cookie's value: 43 characters of base64url.
func (s TabletSecret) Text() string { return base64.RawURLEncoding.EncodeToString(s.secret[:]) }

// Hash is what the store keeps.
func (s TabletSecret) Hash() TabletHash { return sha256.Sum256(s.secret[:]) }

// Matches compares in constant time.
func (s TabletSecret) Matches(stored TabletHash) bool {
	h := s.Hash()
	return subtle.ConstantTimeCompare(h[:], stored[:]) == 1
}

// String hides the secret.
func (s TabletSecret) String() string { return "tablet secret (hidden)" }

// GoString hides the secret from %#v too.
func (s TabletSecret) GoString() string { return s.String() }
