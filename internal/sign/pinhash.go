package sign

import (
	"crypto/rand"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"strings"

	"golang.org/x/crypto/argon2"
)

// Cost is what one slow hash takes.
type Cost struct {
	MemoryKiB uint32
	Passes    uint32
	Lanes     uint8
}

// DefaultCost is 19 MiB, two passes, one lane: the least the OWASP Password
// Storage Cheat Sheet names for Argon2id (m=19456, t=2, p=1). RFC 9106 section
// 4 would have 64 MiB or more where the machine can spare it. The server key
// makes up for the lower figure, not for a stolen key.
var DefaultCost = Cost{MemoryKiB: 19456, Passes: 2, Lanes: 1}

// Costs outside these bounds in a stored hash are refused, so that a damaged
// row can't take the server's memory.
var (
	leastCost = Cost{MemoryKiB: 8 * 1024, Passes: 1, Lanes: 1}
	mostCost  = Cost{MemoryKiB: 256 * 1024, Passes: 16, Lanes: 8}
)

const (
	saltBytes = 16
	tagBytes  = 32
)

// ErrDamagedHash says that a stored hash can't be read.
var ErrDamagedHash = errors.New("the stored hash is damaged")

// pinHash is a stored hash taken apart.
type pinHash struct {
	cost  Cost
	keyID string
	salt  []byte
	tag   []byte
}

// derive is the slow part: Argon2id (RFC 9106) over the PIN's HMAC under the
// server key. Go's argon2 has no input for a key, so the HMAC goes around it.
func derive(key Key, pin PIN, salt []byte, cost Cost) []byte {
	keyed := key.mac("pin", []byte(pin.digits))
	return argon2.IDKey(keyed[:], salt, cost.Passes, cost.MemoryKiB, cost.Lanes, tagBytes)
}

func newSalt() ([]byte, error) {
	salt := make([]byte, saltBytes)
	if _, err := io.ReadFull(rand.Reader, salt); err != nil {
		return nil, fmt.Errorf("hash a PIN: %w", err)
	}
	return salt, nil
}

// String is the PHC string format: $argon2id$v=19$m=…,t=…,p=…,keyid=…$salt$tag,
// in base64 without padding.
func (h pinHash) String() string {
	b64 := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d,keyid=%s$%s$%s", argon2.Version,
		h.cost.MemoryKiB, h.cost.Passes, h.cost.Lanes, h.keyID, b64.EncodeToString(h.salt), b64.EncodeToString(h.tag))
}

// parsePINHash reads what String wrote. Errors wrap ErrDamagedHash.
func parsePINHash(text string) (pinHash, error) {
	parts := strings.Split(text, "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" || parts[2] != fmt.Sprintf("v=%d", argon2.Version) {
		return pinHash{}, fmt.Errorf("%w: not an argon2id hash of version %d", ErrDamagedHash, argon2.Version)
	}
	var h pinHash
	settings, keyID, ok := strings.Cut(parts[3], ",keyid=")
	n, err := fmt.Sscanf(settings, "m=%d,t=%d,p=%d", &h.cost.MemoryKiB, &h.cost.Passes, &h.cost.Lanes)
	if !ok || err != nil || n != 3 || !h.cost.within() {
		return pinHash{}, fmt.Errorf("%w: settings %q", ErrDamagedHash, parts[3])
	}
	h.keyID = keyID
	b64 := base64.RawStdEncoding.Strict()
	if h.salt, err = b64.DecodeString(parts[4]); err != nil || len(h.salt) < saltBytes {
		return pinHash{}, fmt.Errorf("%w: salt", ErrDamagedHash)
	}
	if h.tag, err = b64.DecodeString(parts[5]); err != nil || len(h.tag) != tagBytes {
		return pinHash{}, fmt.Errorf("%w: tag", ErrDamagedHash)
	}
	if h.String() != text {
		return pinHash{}, fmt.Errorf("%w: settings %q", ErrDamagedHash, parts[3])
	}
	return h, nil
}

func (c Cost) within() bool {
	return c.MemoryKiB >= leastCost.MemoryKiB && c.MemoryKiB <= mostCost.MemoryKiB &&
		c.Passes >= leastCost.Passes && c.Passes <= mostCost.Passes &&
		c.Lanes >= leastCost.Lanes && c.Lanes <= mostCost.Lanes
}
