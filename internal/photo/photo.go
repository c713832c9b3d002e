// Package photo takes pictures in: it finds out whether what was sent is one, turns it upright, makes it small and
// writes it anew, so that nothing of the camera's own data (place, time, owner, serial number) is kept.
//
// It reads JPEG (ITU-T T.81), PNG (ISO/IEC 15948) and WebP, and the orientation of EXIF (CIPA DC-008). What it keeps is
// JPEG.
package photo

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
)

// What is taken and what is kept.
const (
	MaxBytes = 25 << 20 // of a picture as it is sent

	MaxKept  = 300_000 // bytes of the picture kept
	MaxThumb = 15_000  // bytes of its thumbnail

	longestKept  = 1920 // pixels of the longer side
	longestThumb = 320
)

// Type is the media type of everything kept.
const Type = "image/jpeg"

// Why a picture is not taken. Errors of Read and Receive are one of these, or of the machine (a full disk, a context that
// ended).
var (
	ErrEmpty         = errors.New("nothing was sent")
	ErrTooLarge      = fmt.Errorf("more than %d MB", MaxBytes>>20)
	ErrNotPicture    = errors.New("neither JPEG, PNG nor WebP")
	ErrHEIF          = errors.New("an HEIF picture, which can't be read here")
	ErrAnimated      = errors.New("more than one picture: it moves")
	ErrTooManyPixels = fmt.Errorf("it would take more than %d MB to open", mostMemory>>20)
	ErrCutShort      = errors.New("it ends before its end")
	ErrDamaged       = errors.New("it can't be read as what it says it is")
)

// Hash names a picture by what it is: the SHA-256 of the bytes kept.
type Hash [sha256.Size]byte

// HashOf is the hash of a picture's bytes.
func HashOf(picture []byte) Hash { return sha256.Sum256(picture) }

func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// ParseHash reads what String writes: 64 small hexadecimal digits and nothing else.
func ParseHash(s string) (Hash, error) {
	var h Hash
	raw, err := hex.DecodeString(s)
	if err != nil || len(raw) != len(h) || hex.EncodeToString(raw) != s {
		return h, fmt.Errorf("%.80q is not the hash of a picture: 64 hexadecimal digits", s)
	}
	copy(h[:], raw)
	return h, nil
}

// Kept is a picture as it is kept.
type Kept struct {
	Hash          Hash
	JPEG          []byte // at most MaxKept
	Thumb         []byte // JPEG too, at most MaxThumb
	Width, Height int    // of JPEG, upright
}
