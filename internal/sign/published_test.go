package sign

import (
	"encoding/hex"
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"golang.org/x/crypto/argon2"
)

// checkCase is one case of testdata/checks, with its source beside it.
type checkCase struct {
	ID     string          `json:"id"`
	Topic  string          `json:"topic"`
	Input  json.RawMessage `json:"input"`
	Expect json.RawMessage `json:"expect"`
	Source string          `json:"source"`
}

// cases reads the cases whose id starts with prefix; none is an error.
func cases(t *testing.T, prefix string) []checkCase {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/checks/sign.json")
	if err != nil {
		t.Fatal(err)
	}
	var all, found []checkCase
	if err := json.Unmarshal(raw, &all); err != nil {
		t.Fatal(err)
	}
	for _, c := range all {
		if strings.HasPrefix(c.ID, prefix) {
			found = append(found, c)
		}
	}
	if len(found) == 0 {
		t.Fatalf("no case %s…", prefix)
	}
	return found
}

func decode[T any](t *testing.T, raw json.RawMessage) T {
	t.Helper()
	var v T
	if err := json.Unmarshal(raw, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

// The library underneath gives the reference implementation's tags. The test
// vector of RFC 9106 can't be used: it has a secret and associated data, which
// the library doesn't take.
func TestArgon2idMatchesTheReference(t *testing.T) {
	for _, c := range cases(t, "argon2id-ref-") {
		in := decode[struct {
			Password, Salt string
			Memory         uint32 `json:"memory_kib"`
			Passes         uint32
			Lanes          uint8
		}](t, c.Input)
		want := decode[struct{ Tag string }](t, c.Expect).Tag
		got := hex.EncodeToString(argon2.IDKey([]byte(in.Password), []byte(in.Salt), in.Passes, in.Memory, in.Lanes, tagBytes))
		if got != want {
			t.Errorf("%s: tag %s, want %s (%s)", c.ID, got, want, c.Source)
		}
	}
}

func TestKeyedHashIsHMACSHA256(t *testing.T) {
	for _, c := range cases(t, "hmac-sha256-") {
		in := decode[struct {
			Key  string `json:"key_hex"`
			Data string `json:"data_hex"`
		}](t, c.Input)
		want := decode[struct {
			HMAC string `json:"hmac_sha256"`
		}](t, c.Expect).HMAC
		key, err := hex.DecodeString(in.Key)
		if err != nil {
			t.Fatal(err)
		}
		data, err := hex.DecodeString(in.Data)
		if err != nil {
			t.Fatal(err)
		}
		// In two parts, to show that parts only join.
		got := keyedHash(key, data[:len(data)/2], data[len(data)/2:])
		if hex.EncodeToString(got[:]) != want {
			t.Errorf("%s: %x, want %s (%s)", c.ID, got, want, c.Source)
		}
	}
}

func TestLimitsAreWithinTheGuideline(t *testing.T) {
	c := cases(t, "nist-rate-limit")[0]
	most := decode[struct {
		Max int `json:"max_consecutive_failures"`
	}](t, c.Expect).Max
	if PersonLimit.Lock > most || TabletLimit.Lock > most {
		t.Errorf("locks at %d and %d, want at most %d (%s)", PersonLimit.Lock, TabletLimit.Lock, most, c.Source)
	}
	c = cases(t, "pin-guess-6-100")[0]
	want := decode[struct {
		P float64 `json:"guess_probability_uniform_pin"`
	}](t, c.Expect).P
	if got := float64(PersonLimit.Lock) / math.Pow10(PINLength); got > want {
		t.Errorf("guessed with probability %g, want at most %g (%s)", got, want, c.Source)
	}
}

func TestSecretsAreLongEnough(t *testing.T) {
	c := cases(t, "asvs-session-token")[0]
	least := decode[struct {
		Bits int `json:"min_entropy_bits"`
	}](t, c.Expect).Bits
	if badgeBytes*8 < least || tabletBytes*8 < least {
		t.Errorf("badge %d bits, tablet %d bits, want %d (%s)", badgeBytes*8, tabletBytes*8, least, c.Source)
	}
	c = cases(t, "asvs-lookup-secret")[0]
	least = decode[struct {
		Bits int `json:"min_entropy_bits"`
	}](t, c.Expect).Bits
	if bits := oneTimeLength * math.Log2(float64(len(oneTimeAlphabet))); bits < float64(least) {
		t.Errorf("one-time code %.1f bits, want %d (%s)", bits, least, c.Source)
	}
	c = cases(t, "nist-keyed-hash")[0]
	hash := decode[struct {
		Salt int `json:"salt_bits_min"`
		Key  int `json:"key_strength_bits_min"`
	}](t, c.Expect)
	if saltBytes*8 < hash.Salt || KeyBytes*8 < hash.Key {
		t.Errorf("salt %d bits, key %d bits, want %d and %d (%s)", saltBytes*8, KeyBytes*8, hash.Salt, hash.Key, c.Source)
	}
	c = cases(t, "nist-pin-length")[0]
	if want := decode[struct {
		Recommended int `json:"final_recommended"`
	}](t, c.Expect).Recommended; PINLength < want {
		t.Errorf("PIN of %d digits, want %d (%s)", PINLength, want, c.Source)
	}
}
