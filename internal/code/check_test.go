package code

import (
	"encoding/json"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
)

// checkCase is one case of testdata/checks, with its source beside it.
type checkCase struct {
	ID     string          `json:"id"`
	Topic  string          `json:"topic"`
	Input  json.RawMessage `json:"input"`
	Expect json.RawMessage `json:"expect"`
	Source string          `json:"source"`
}

// cases reads the cases of one topic; none is an error.
func cases(t *testing.T, file, topic string) []checkCase {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/checks/" + file)
	if err != nil {
		t.Fatal(err)
	}
	var all, found []checkCase
	if err := json.Unmarshal(raw, &all); err != nil {
		t.Fatal(err)
	}
	for _, c := range all {
		if c.Topic == topic {
			found = append(found, c)
		}
	}
	if len(found) == 0 {
		t.Fatalf("no case of topic %s in %s", topic, file)
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

func TestAlphabet(t *testing.T) {
	const everything = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	if len(Alphabet) != 31 {
		t.Fatalf("the alphabet has %d symbols, want 31", len(Alphabet))
	}
	for _, r := range everything {
		if strings.ContainsRune(Alphabet, r) == strings.ContainsRune(Unused, r) {
			t.Errorf("%q must be either in the alphabet or unused", r)
		}
	}
}

// complete replaces the symbol at place k so that the eight symbols check.
func complete(t *testing.T, symbols []byte, k int) string {
	t.Helper()
	for i := range len(Alphabet) {
		symbols[k] = Alphabet[i]
		if valid(string(symbols)) {
			return string(symbols)
		}
	}
	t.Fatalf("no symbol at place %d completes %s", k, symbols)
	return ""
}

// The sum is linear, so a fault is seen or not whatever the other symbols are.
// These tests go through every place, every pair of places and every pair of
// values, on a random background.
func TestEverySubstitutionIsCaught(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for place := range Length {
		for a := range len(Alphabet) {
			symbols := randomSymbols(rng)
			symbols[place] = Alphabet[a]
			good := complete(t, symbols, (place+1+rng.IntN(Length-1))%Length)
			for b := range len(Alphabet) {
				bad := []byte(good)
				bad[place] = Alphabet[b]
				if valid(string(bad)) != (a == b) {
					t.Fatalf("%s read as %s: valid is %v", good, bad, valid(string(bad)))
				}
			}
		}
	}
}

func TestEverySwapAndTwinFaultIsCaught(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	swaps, twins := 0, 0
	for i := range Length {
		for j := i + 1; j < Length; j++ {
			k := otherPlace(rng, i, j)
			for a := range len(Alphabet) {
				for b := range len(Alphabet) {
					if a == b {
						continue
					}
					symbols := randomSymbols(rng)
					symbols[i], symbols[j] = Alphabet[a], Alphabet[b]
					swapped := []byte(complete(t, symbols, k))
					swapped[i], swapped[j] = swapped[j], swapped[i]
					if valid(string(swapped)) {
						t.Fatalf("exchange of places %d and %d not seen: %s", i, j, swapped)
					}
					swaps++
					symbols[i], symbols[j] = Alphabet[a], Alphabet[a]
					twin := []byte(complete(t, symbols, k))
					twin[i], twin[j] = Alphabet[b], Alphabet[b]
					if valid(string(twin)) {
						t.Fatalf("twin fault at places %d and %d not seen: %s", i, j, twin)
					}
					twins++
				}
			}
		}
	}
	if want := 28 * 31 * 30; swaps != want || twins != want {
		t.Fatalf("tried %d exchanges and %d twin faults, want %d of each", swaps, twins, want)
	}
}

func randomSymbols(rng *rand.Rand) []byte {
	symbols := make([]byte, Length)
	for i := range symbols {
		symbols[i] = Alphabet[rng.IntN(len(Alphabet))]
	}
	return symbols
}

func otherPlace(rng *rand.Rand, i, j int) int {
	for {
		if k := rng.IntN(Length); k != i && k != j {
			return k
		}
	}
}

// mod37 is ISO/IEC 7064 MOD 37-2, the outside yardstick: it never checks our
// codes, but what it catches ours must catch too.
const mod37Alphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"

func mod37(s string) byte {
	c := 0
	for i := range len(s) {
		c = (c + strings.IndexByte(mod37Alphabet, s[i])) * 2 % 37
	}
	return mod37Alphabet[(38-c)%37]
}

func mod37Valid(s string) bool {
	body, check := s[:len(s)-1], s[len(s)-1]
	for i := range len(body) {
		if v := strings.IndexByte(mod37Alphabet, body[i]); v < 0 || v > 35 {
			return false
		}
	}
	return mod37(body) == check
}

// gs1Valid is the GS1 mod-10 rule (GS1 General Specifications 7.9).
func gs1Valid(digits string) bool {
	sum, weight := 0, 1
	for i := len(digits) - 1; i >= 0; i-- {
		sum += int(digits[i]-'0') * weight
		weight = 4 - weight
	}
	return sum%10 == 0
}

func TestYardstickMatchesPublishedValues(t *testing.T) {
	for _, c := range cases(t, "check-digit.json", "check-digit/iso7064-mod37-2") {
		in := decode[struct{ String string }](t, c.Input)
		strs := decode[struct{ Strings []string }](t, c.Input)
		switch {
		case in.String != "":
			want := decode[struct {
				Check string `json:"check_character"`
			}](t, c.Expect)
			if got := string(mod37(in.String)); got != want.Check {
				t.Errorf("%s: check character of %s is %s, want %s (%s)", c.ID, in.String, got, want.Check, c.Source)
			}
		case len(strs.Strings) > 0:
			want := decode[struct{ Valid []bool }](t, c.Expect)
			for i, s := range strs.Strings {
				if mod37Valid(s) != want.Valid[i] {
					t.Errorf("%s: %s valid is %v, want %v (%s)", c.ID, s, mod37Valid(s), want.Valid[i], c.Source)
				}
			}
		}
	}
}

// On the same random bodies and the same faults, ours misses no more than
// MOD 37-2 does; GS1 mod-10 misses the exchanges it is known to miss.
func TestDetectionAgainstYardsticks(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	oursMissed, theirsMissed := 0, 0
	for range 2000 {
		body := slices.Clip(randomSymbols(rng)[:Length-1])
		ours := append(slices.Clone(body), checkCharacter(string(body)))
		theirs := append(slices.Clone(body), mod37(string(body)))
		for i := range Length - 1 {
			for j := i + 1; j < Length-1; j++ {
				if body[i] == body[j] {
					continue
				}
				if valid(exchange(ours, i, j)) {
					oursMissed++
				}
				if mod37Valid(exchange(theirs, i, j)) {
					theirsMissed++
				}
			}
		}
	}
	if oursMissed != 0 || theirsMissed != 0 {
		t.Errorf("exchanges missed: ours %d, MOD 37-2 %d, want 0 and 0", oursMissed, theirsMissed)
	}

	missed := 0
	for a := byte('0'); a <= '9'; a++ {
		for b := byte('0'); b <= '9'; b++ {
			for check := byte('0'); check <= '9'; check++ {
				s := []byte{'0', a, b, check}
				if a != b && gs1Valid(string(s)) && gs1Valid(exchange(s, 1, 2)) {
					missed++
				}
			}
		}
	}
	for _, c := range cases(t, "check-digit.json", "check-digit/gs1") {
		if want := decode[struct{ Undetected int }](t, c.Expect).Undetected; want != 0 && missed != want {
			t.Errorf("%s: mod-10 misses %d exchanges, want %d (%s)", c.ID, missed, want, c.Source)
		}
	}
}

func exchange(s []byte, i, j int) string {
	out := []byte(string(s))
	out[i], out[j] = out[j], out[i]
	return string(out)
}

// Article numbers lie about in a shop; none may pass for a code of ours.
func TestGS1KeysAreForeign(t *testing.T) {
	for _, c := range cases(t, "check-digit.json", "check-digit/gs1") {
		full := decode[struct{ Full string }](t, c.Expect).Full
		if full == "" {
			continue
		}
		if !gs1Valid(full) {
			t.Errorf("%s: %s fails mod-10 (%s)", c.ID, full, c.Source)
		}
		_, err := ParseScan(full)
		wantProblem(t, full, err, Foreign)
	}
}
