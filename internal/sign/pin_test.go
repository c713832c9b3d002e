package sign

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

func testKey(t testing.TB, b byte) Key {
	t.Helper()
	key, err := NewKey([]byte(strings.Repeat(string(rune(b)), KeyBytes)))
	if err != nil {
		t.Fatal(err)
	}
	return key
}

func testPIN(t testing.TB, digits string) PIN {
	t.Helper()
	pin, err := ParsePIN(digits)
	if err != nil {
		t.Fatal(err)
	}
	return pin
}

func testVerifier(t testing.TB, cost Cost, keys ...Key) *Verifier {
	t.Helper()
	v, err := NewVerifier(NewKeyring(keys[0], keys[1:]...), cost)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestParsePIN(t *testing.T) {
	for _, good := range []string{"000000", "482913", " 482913\n"} {
		if _, err := ParsePIN(good); err != nil {
			t.Errorf("ParsePIN(%q): %v", good, err)
		}
	}
	for _, bad := range []string{"", "48291", "4829130", "48291a", "48 2913", "٤٨٢٩١٣", "-48291", "+48291", "48291.", strings.Repeat("1", 1000)} {
		if _, err := ParsePIN(bad); !errors.Is(err, ErrPINShape) {
			t.Errorf("ParsePIN(%q): %v", bad, err)
		}
	}
}

func TestWeakPINs(t *testing.T) {
	for _, weak := range []string{"000000", "111111", "123456", "654321", "012345", "890123", "246802", "121212", "123123",
		"123321", "112233", "111222", "147258", "159357", "741852", "789456"} {
		if err := testPIN(t, weak).CheckNew(); !errors.Is(err, ErrPINWeak) {
			t.Errorf("%s: %v, want it refused", weak, err)
		}
	}
	for _, fair := range []string{"482913", "100200", "123457", "112234", "905172"} {
		if err := testPIN(t, fair).CheckNew(); err != nil {
			t.Errorf("%s: %v, want it taken", fair, err)
		}
	}
	if err := (PIN{}).CheckNew(); !errors.Is(err, ErrPINShape) {
		t.Errorf("no PIN: %v", err)
	}
	refused := 0
	for n := range 1_000_000 {
		if testPIN(t, fmt.Sprintf("%06d", n)).CheckNew() != nil {
			refused++
		}
	}
	// 1,000 repeats of three, 1,000 mirrors, 1,000 doubled in pairs, less overlaps, and some.
	if refused < 2500 || refused > 5000 {
		t.Errorf("%d PINs of a million refused, want between 2,500 and 5,000", refused)
	}
}

func TestVerify(t *testing.T) {
	ctx := t.Context()
	v := testVerifier(t, DefaultCost, testKey(t, 1))
	right, wrong := testPIN(t, "482913"), testPIN(t, "482914")
	stored, err := v.Hash(ctx, right)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(stored, "$argon2id$v=19$m=19456,t=2,p=1,keyid=") || strings.Contains(stored, "482913") {
		t.Errorf("stored as %s", stored)
	}
	again, err := v.Hash(ctx, right)
	if err != nil || again == stored {
		t.Errorf("two hashes of one PIN are equal (%v)", err)
	}
	for range 2 { // slow, then remembered
		for pin, want := range map[PIN]bool{wrong: false, right: true} {
			if got, err := v.Verify(ctx, stored, pin); err != nil || got != want {
				t.Errorf("Verify = %v, %v, want %v", got, err, want)
			}
		}
	}
	if _, err := v.Hash(ctx, testPIN(t, "123456")); !errors.Is(err, ErrPINWeak) {
		t.Errorf("weak PIN: %v", err)
	}
}

func TestKeyRotation(t *testing.T) {
	ctx := t.Context()
	pin := testPIN(t, "482913")
	before := testVerifier(t, leastCost, testKey(t, 1))
	stored, err := before.Hash(ctx, pin)
	if err != nil {
		t.Fatal(err)
	}
	rotated := testVerifier(t, leastCost, testKey(t, 2), testKey(t, 1))
	if ok, err := rotated.Verify(ctx, stored, pin); !ok || err != nil {
		t.Errorf("the older key no longer checks: %v, %v", ok, err)
	}
	if before.Outdated(stored) || !rotated.Outdated(stored) {
		t.Error("outdated is whatever the current key didn't make")
	}
	renewed, err := rotated.Rehash(ctx, pin)
	if err != nil || rotated.Outdated(renewed) {
		t.Errorf("hashed again: %v", err)
	}
	if _, err := before.Verify(ctx, renewed, pin); !errors.Is(err, ErrUnknownKey) {
		t.Errorf("key not loaded: %v", err)
	}
	// The key is part of the hash: another key under the same name fails.
	h, err := parsePINHash(stored)
	if err != nil {
		t.Fatal(err)
	}
	h.keyID = testKey(t, 2).ID()
	if ok, err := rotated.Verify(ctx, h.String(), pin); ok || err != nil {
		t.Errorf("another key: %v, %v", ok, err)
	}
}

func TestDamagedHashes(t *testing.T) {
	v := testVerifier(t, leastCost, testKey(t, 1))
	pin := testPIN(t, "482913")
	good, err := v.Hash(t.Context(), pin)
	if err != nil {
		t.Fatal(err)
	}
	for _, change := range [][2]string{{"argon2id", "argon2i"}, {"v=19", "v=16"}, {"m=8192", "m=99999999"}, {"m=8192", "m=1"},
		{"m=8192", "m=08192"}, {"t=1", "t=0"}, {"t=1", "t=999"}, {"p=1", "p=0"}, {",keyid=", ",key="}, {"$argon2id", "argon2id"}} {
		bad := strings.Replace(good, change[0], change[1], 1)
		if bad == good {
			t.Fatalf("%v changes nothing in %s", change, good)
		}
		if _, err := v.Verify(t.Context(), bad, pin); !errors.Is(err, ErrDamagedHash) {
			t.Errorf("%v: %v", change, err)
		}
	}
	for _, bad := range []string{"", "$", good[:len(good)-1], good + "$", good + "A"} {
		if _, err := v.Verify(t.Context(), bad, pin); !errors.Is(err, ErrDamagedHash) {
			t.Errorf("%q: %v", bad, err)
		}
	}
}

func TestAtMostTwoSlowHashesAtOnce(t *testing.T) {
	v := testVerifier(t, leastCost, testKey(t, 1))
	var running, most, calls atomic.Int32
	entered, release := make(chan struct{}, 20), make(chan struct{})
	v.derive = func(key Key, pin PIN, salt []byte, cost Cost) []byte {
		n := running.Add(1)
		for m := most.Load(); n > m && !most.CompareAndSwap(m, n); m = most.Load() {
		}
		calls.Add(1)
		entered <- struct{}{}
		<-release
		running.Add(-1)
		return make([]byte, tagBytes)
	}
	pin := testPIN(t, "482913")
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			if _, err := v.Rehash(t.Context(), pin); err != nil {
				t.Error(err)
			}
		})
	}
	<-entered
	<-entered
	// Both slots are taken: a call that can't wait gives up and hashes nothing.
	short, cancel := context.WithTimeout(t.Context(), 20*time.Millisecond)
	defer cancel()
	if _, err := v.Rehash(short, pin); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("no free slot: %v", err)
	}
	if n := calls.Load(); n != 2 {
		t.Errorf("%d started while two slots were taken", n)
	}
	close(release)
	wg.Wait()
	if most.Load() != 2 || calls.Load() != 8 {
		t.Errorf("%d at once, %d in all, want 2 and 8", most.Load(), calls.Load())
	}
	cancelled, stop := context.WithCancel(t.Context())
	stop()
	if _, err := v.Rehash(cancelled, pin); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled before: %v", err)
	}
}

func TestRememberedPINs(t *testing.T) {
	ctx := t.Context()
	v := testVerifier(t, leastCost, testKey(t, 1))
	var slow atomic.Int32
	v.derive = func(key Key, pin PIN, salt []byte, cost Cost) []byte {
		slow.Add(1)
		tag := keyedHash(key.secret[:], salt, []byte(pin.digits)) // fast stand-in: the cache is what is tried here
		return tag[:]
	}
	check := func(stored, digits string, want bool, wantSlow int32) {
		t.Helper()
		slow.Store(0)
		if got, err := v.Verify(ctx, stored, testPIN(t, digits)); err != nil || got != want || slow.Load() != wantSlow {
			t.Errorf("%s: %v, %v with %d slow hashes, want %v with %d", digits, got, err, slow.Load(), want, wantSlow)
		}
	}
	first, err := v.Rehash(ctx, testPIN(t, "482913"))
	if err != nil {
		t.Fatal(err)
	}
	check(first, "111222", false, 1) // a wrong PIN is never remembered
	check(first, "111222", false, 1)
	check(first, "482913", true, 1)
	check(first, "482913", true, 0)
	check(first, "482914", false, 0)

	changed, err := v.Rehash(ctx, testPIN(t, "905172"))
	if err != nil {
		t.Fatal(err)
	}
	check(changed, "482913", false, 1) // the old PIN doesn't pass the new hash
	check(changed, "905172", true, 1)
	v.Forget(changed)
	check(changed, "905172", true, 1)

	for range 2 * remembered {
		stored, err := v.Rehash(ctx, testPIN(t, "482913"))
		if err != nil {
			t.Fatal(err)
		}
		check(stored, "482913", true, 1)
		if n := len(v.recent) + len(v.older); n > remembered {
			t.Fatalf("%d remembered, want at most %d", n, remembered)
		}
		slow.Store(0)
		check(changed, "905172", true, 0) // what is used stays
	}
	check(first, "482913", true, 1) // what isn't used goes
}

func TestCostBounds(t *testing.T) {
	for _, bad := range []Cost{{}, {MemoryKiB: 1024, Passes: 2, Lanes: 1}, {MemoryKiB: 19456, Passes: 0, Lanes: 1}, {MemoryKiB: 1 << 30, Passes: 2, Lanes: 1}} {
		if _, err := NewVerifier(NewKeyring(testKey(t, 1)), bad); err == nil {
			t.Errorf("cost %+v was taken", bad)
		}
	}
	if _, err := NewKey(make([]byte, KeyBytes-1)); err == nil {
		t.Error("a short key was taken")
	}
}

func BenchmarkVerify(b *testing.B) {
	v := testVerifier(b, DefaultCost, testKey(b, 1))
	pin := testPIN(b, "482913")
	stored, err := v.Hash(b.Context(), pin)
	if err != nil {
		b.Fatal(err)
	}
	b.Run("slow", func(b *testing.B) {
		for b.Loop() {
			v.Forget(stored)
			if ok, err := v.Verify(b.Context(), stored, pin); !ok || err != nil {
				b.Fatal(ok, err)
			}
		}
	})
	b.Run("remembered", func(b *testing.B) {
		for b.Loop() {
			if ok, err := v.Verify(b.Context(), stored, pin); !ok || err != nil {
				b.Fatal(ok, err)
			}
		}
	})
}
