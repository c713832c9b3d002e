package sign

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
)

// KeyBytes is the length of a server key.
const KeyBytes = 32

// ErrUnknownKey says that a hash was made with a server key that isn't loaded:
// the key file is missing or was replaced without keeping the older one.
var ErrUnknownKey = errors.New("the hash was made with a server key that is not loaded")

// Key is a secret of the server that is never in the database: whoever copies
// the database alone can't try PINs against it. It is 32 random bytes.
type Key struct{ secret [KeyBytes]byte }

// NewKey takes exactly KeyBytes bytes.
func NewKey(secret []byte) (Key, error) {
	if len(secret) != KeyBytes {
		return Key{}, fmt.Errorf("a server key has %d bytes, not %d", KeyBytes, len(secret))
	}
	return Key{secret: [KeyBytes]byte(secret)}, nil
}

// ID names the key in stored hashes without telling it: eight base64
// characters of an HMAC under the key.
func (k Key) ID() string {
	sum := k.mac("key id", nil)
	return base64.RawStdEncoding.EncodeToString(sum[:6])
}

// String hides the key.
func (k Key) String() string { return "server key " + k.ID() }

// GoString hides the key from %#v too.
func (k Key) GoString() string { return k.String() }

// mac is HMAC-SHA-256 (RFC 2104) of a purpose, a zero byte and data. The
// purpose keeps one use of the key from serving for another.
func (k Key) mac(purpose string, data []byte) [sha256.Size]byte {
	return keyedHash(k.secret[:], []byte(purpose), []byte{0}, data)
}

func keyedHash(key []byte, parts ...[]byte) [sha256.Size]byte {
	h := hmac.New(sha256.New, key)
	for _, part := range parts {
		h.Write(part)
	}
	return [sha256.Size]byte(h.Sum(nil))
}

// Keyring holds the key new hashes are made with and the older ones that still
// check theirs.
type Keyring struct {
	current Key
	byID    map[string]Key
}

// NewKeyring puts current first; older keys only check.
func NewKeyring(current Key, older ...Key) Keyring {
	ring := Keyring{current: current, byID: map[string]Key{current.ID(): current}}
	for _, k := range older {
		ring.byID[k.ID()] = k
	}
	return ring
}
