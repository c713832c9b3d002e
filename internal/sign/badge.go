package sign

import (
	"crypto/sha256"
	"crypto/subtle"
	"errors"
	"fmt"
	"io"
	"strings"
)

// BadgePrefix starts the text of every badge, so that a scan is recognised as
// one before anything is looked up.
const BadgePrefix = "BDG"

// badgeLetters write four bits a letter. They sit on the same key of a US, a
// German and a French keyboard (so no A M Q W Y Z and no digits), in either
// case: a keyboard scanner set to another country can't change a badge. All are
// in the alphanumeric mode of QR symbols, and with the prefix a badge has 35
// characters, the most that version 3 holds at level H (ISO/IEC 18004).
const badgeLetters = "BCDEFGHJKLNPRTVX"

const (
	badgeBytes  = 16 // 128 random bits
	badgeLength = len(BadgePrefix) + 2*badgeBytes
)

// ErrNotBadge says that a scanned text is not a badge.
var ErrNotBadge = errors.New("that is not a badge. Nothing was signed. Scan the QR symbol on your own badge")

// Badge is the secret in a person's badge. It is shown once, to print it; the
// store keeps Hash only.
type Badge struct{ token [badgeBytes]byte }

// BadgeHash is the SHA-256 of a badge's token, as stored and looked up. A plain
// hash is enough, since 128 random bits can't be guessed.
type BadgeHash [sha256.Size]byte

// NewBadge makes a badge from random, which should be crypto/rand.Reader.
func NewBadge(random io.Reader) (Badge, error) {
	var b Badge
	if _, err := io.ReadFull(random, b.token[:]); err != nil {
		return Badge{}, fmt.Errorf("make a badge: %w", err)
	}
	return b, nil
}

// IsBadge reports whether a scanned text has the shape of a badge.
func IsBadge(text string) bool {
	_, err := ParseBadge(text)
	return err == nil
}

// ParseBadge reads the text of a badge, in either case, with blanks around it.
// The error is ErrNotBadge.
func ParseBadge(text string) (Badge, error) {
	if len(text) > 2*badgeLength {
		return Badge{}, ErrNotBadge
	}
	letters, ok := strings.CutPrefix(strings.ToUpper(strings.TrimSpace(text)), BadgePrefix)
	if !ok || len(letters) != 2*badgeBytes {
		return Badge{}, ErrNotBadge
	}
	var b Badge
	for i := range b.token {
		high := strings.IndexByte(badgeLetters, letters[2*i])
		low := strings.IndexByte(badgeLetters, letters[2*i+1])
		if high < 0 || low < 0 {
			return Badge{}, ErrNotBadge
		}
		b.token[i] = byte(high<<4 | low)
	}
	return b, nil
}

// Text is what the badge's QR symbol holds: BadgePrefix and 32 letters.
func (b Badge) Text() string {
	out := []byte(BadgePrefix)
	for _, v := range b.token {
		out = append(out, badgeLetters[v>>4], badgeLetters[v&15])
	}
	return string(out)
}

// Hash is what the store keeps.
func (b Badge) Hash() BadgeHash { return sha256.Sum256(b.token[:]) }

// Matches compares in constant time.
func (b Badge) Matches(stored BadgeHash) bool {
	h := b.Hash()
	return subtle.ConstantTimeCompare(h[:], stored[:]) == 1
}

// String hides the token, so that no log or error holds it.
func (b Badge) String() string { return "badge (hidden)" }

// GoString hides the token from %#v too.
func (b Badge) GoString() string { return b.String() }
