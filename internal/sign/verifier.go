package sign

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"fmt"
	"io"
	"sync"
)

// atOnce is how many slow hashes run at the same time: two bound the memory
// to about 40 MiB and leave a small server able to answer.
const atOnce = 2

// remembered is how many checked PINs a process keeps in memory at most.
const remembered = 2000

// Verifier hashes and checks PINs. It is safe for use by many goroutines.
//
// After a success it remembers the PIN's HMAC under a key made at start, so
// that the next check costs a microsecond, not some 20 ms. The memory is bound to the
// stored hash: when the PIN changes, so does its hash, and the entry is never
// found again. Nothing remembered is written anywhere; it ends with the process.
type Verifier struct {
	keys   Keyring
	cost   Cost
	slots  chan struct{}
	derive func(Key, PIN, []byte, Cost) []byte

	processKey [KeyBytes]byte
	mu         sync.Mutex
	recent     map[[sha256.Size]byte][sha256.Size]byte // digest of stored hash → fast hash
	older      map[[sha256.Size]byte][sha256.Size]byte
}

// NewVerifier makes a Verifier that hashes at the given cost. It fails only if
// the cost is out of bounds or the system gives no randomness.
func NewVerifier(keys Keyring, cost Cost) (*Verifier, error) {
	if !cost.within() {
		return nil, fmt.Errorf("a PIN hash of %d KiB, %d passes and %d lanes is out of bounds", cost.MemoryKiB, cost.Passes, cost.Lanes)
	}
	v := &Verifier{
		keys:   keys,
		cost:   cost,
		slots:  make(chan struct{}, atOnce),
		derive: derive,
		recent: map[[sha256.Size]byte][sha256.Size]byte{},
	}
	if _, err := io.ReadFull(rand.Reader, v.processKey[:]); err != nil {
		return nil, fmt.Errorf("make a process key: %w", err)
	}
	return v, nil
}

// Hash makes the string to store for a new PIN, under the current server key
// and a new salt. It refuses a weak PIN with ErrPINWeak, and ends with the
// context's error if that is done before a slot is free.
func (v *Verifier) Hash(ctx context.Context, pin PIN) (string, error) {
	if err := pin.CheckNew(); err != nil {
		return "", err
	}
	return v.Rehash(ctx, pin)
}

// Verify reports whether the PIN is the one behind a stored hash. An error
// means that no answer could be given: ErrDamagedHash, ErrUnknownKey, or the
// context's error while waiting for a slot. The caller counts wrong tries.
func (v *Verifier) Verify(ctx context.Context, stored string, pin PIN) (bool, error) {
	name := sha256.Sum256([]byte(stored))
	fast := keyedHash(v.processKey[:], name[:], []byte(pin.digits))
	if known, ok := v.recall(name); ok {
		// The stored hash has one right PIN and this is its fast hash, so a
		// difference is a wrong PIN: no slow hash is spent on it.
		return subtle.ConstantTimeCompare(known[:], fast[:]) == 1, nil
	}
	h, err := parsePINHash(stored)
	if err != nil {
		return false, err
	}
	key, ok := v.keys.byID[h.keyID]
	if !ok {
		return false, fmt.Errorf("%w (%s)", ErrUnknownKey, h.keyID)
	}
	tag, err := v.slow(ctx, key, pin, h.salt, h.cost)
	if err != nil {
		return false, err
	}
	if subtle.ConstantTimeCompare(tag, h.tag) != 1 {
		return false, nil
	}
	v.remember(name, fast)
	return true, nil
}

// Outdated reports whether a stored hash should be made again at the next
// right PIN: another cost, or an older server key.
func (v *Verifier) Outdated(stored string) bool {
	h, err := parsePINHash(stored)
	return err != nil || h.cost != v.cost || h.keyID != v.keys.current.ID()
}

// Rehash makes a new string for a PIN that Verify just found right, without
// asking whether it would be allowed as a new one.
func (v *Verifier) Rehash(ctx context.Context, pin PIN) (string, error) {
	salt, err := newSalt()
	if err != nil {
		return "", err
	}
	key := v.keys.current
	tag, err := v.slow(ctx, key, pin, salt, v.cost)
	if err != nil {
		return "", err
	}
	return pinHash{cost: v.cost, keyID: key.ID(), salt: salt, tag: tag}.String(), nil
}

// Forget drops what is remembered for a stored hash, for a person who left or
// whose PIN was reset: the next check is slow again.
func (v *Verifier) Forget(stored string) {
	name := sha256.Sum256([]byte(stored))
	v.mu.Lock()
	defer v.mu.Unlock()
	delete(v.recent, name)
	delete(v.older, name)
}

// slow waits for a slot, then hashes.
func (v *Verifier) slow(ctx context.Context, key Key, pin PIN, salt []byte, cost Cost) ([]byte, error) {
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("wait to check a PIN: %w", err)
	}
	select {
	case v.slots <- struct{}{}:
		defer func() { <-v.slots }()
		return v.derive(key, pin, salt, cost), nil
	case <-ctx.Done():
		return nil, fmt.Errorf("wait to check a PIN: %w", ctx.Err())
	}
}

// recall finds an entry and keeps it young.
func (v *Verifier) recall(name [sha256.Size]byte) ([sha256.Size]byte, bool) {
	v.mu.Lock()
	defer v.mu.Unlock()
	if fast, ok := v.recent[name]; ok {
		return fast, true
	}
	fast, ok := v.older[name]
	if ok {
		v.put(name, fast)
	}
	return fast, ok
}

func (v *Verifier) remember(name, fast [sha256.Size]byte) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.put(name, fast)
}

// put adds an entry. Two maps of half the bound each make a cheap cache: when
// the younger is full it becomes the older, and the older is dropped.
func (v *Verifier) put(name, fast [sha256.Size]byte) {
	if len(v.recent) >= remembered/2 {
		v.older = v.recent
		v.recent = make(map[[sha256.Size]byte][sha256.Size]byte, remembered/2)
	}
	delete(v.older, name)
	v.recent[name] = fast
}
