package sign

import (
	"context"
	"crypto/sha256"
)

// CommandHash is the SHA-256 of a command without its PIN and seal.
type CommandHash [sha256.Size]byte

// Opener opens the seal around a PIN that was typed while the server was out of
// reach. A seal is bound to its command: with another command's hash it must
// not open. What a tablet seals with, and where the private key lives, is the
// implementation's.
type Opener interface {
	Open(ctx context.Context, seal []byte, command CommandHash) (PIN, error)
}
