package code

import (
	"bytes"
	"crypto/rand"
	"errors"
	"io"
	mrand "math/rand/v2"
	"strings"
	"testing"
)

func wantProblem(t *testing.T, input string, err error, want Problem) *Error {
	t.Helper()
	var e *Error
	if !errors.As(err, &e) || e.Problem != want {
		t.Fatalf("%q gives %v, want the problem %s", input, err, want)
	}
	return e
}

// stream is a seeded source of random bytes.
type stream struct{ rng *mrand.ChaCha8 }

func (s stream) Read(p []byte) (int, error) { return s.rng.Read(p) }

func seeded(b byte) io.Reader {
	var seed [32]byte
	seed[0] = b
	return stream{mrand.NewChaCha8(seed)}
}

func mustNew(t testing.TB, kind Kind, random io.Reader) Code {
	t.Helper()
	c, err := New(kind, random)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestNewParsesBack(t *testing.T) {
	for _, kind := range Kinds() {
		for range 200 {
			c := mustNew(t, kind, rand.Reader)
			for _, typed := range []string{string(c), c.Spaced(), strings.ToLower(c.Spaced()), " " + string(c[:4]) + "-" + string(c[4:]) + "\r\n"} {
				if got, err := Parse(typed); err != nil || got != c {
					t.Fatalf("Parse(%q) = %v, %v, want %v", typed, got, err, c)
				}
				if got, err := ParseScan(typed); err != nil || got != (Scan{Code: c}) {
					t.Fatalf("ParseScan(%q) = %v, %v, want %v", typed, got, err, c)
				}
			}
			if c.Kind() != kind || c.Require(kind) != nil {
				t.Fatalf("%v is of kind %v, want %v", c, c.Kind(), kind)
			}
		}
	}
}

func TestNewUsesEverySymbolEvenly(t *testing.T) {
	random := seeded(1)
	counts := map[rune]int{}
	const codes = 5000
	for range codes {
		for _, r := range string(mustNew(t, Pallet, random)[1 : Length-1]) {
			counts[r]++
		}
	}
	// 30,000 draws over 31 symbols: 968 each, standard deviation 31.
	for _, r := range Alphabet {
		if n := counts[r]; n < 968-5*31 || n > 968+5*31 {
			t.Errorf("%q drawn %d times, want about 968", r, n)
		}
	}
}

func TestNewNeverMakesACodeThatAKeyboardTurnsIntoAnother(t *testing.T) {
	random := seeded(2)
	met := 0
	for range 20000 {
		c := mustNew(t, Sheet, random)
		if strings.Count(string(c), "Y")+strings.Count(string(c), "Z") >= 2 {
			met++
		}
		if swapped := swapYZ(string(c)); swapped != string(c) && valid(swapped) {
			t.Fatalf("%v is still valid as %v", c, swapped)
		}
	}
	if met < 500 {
		t.Fatalf("only %d codes held two of Y and Z: the test proves little", met)
	}
}

func TestNewFails(t *testing.T) {
	if _, err := New(Kind('Q'), rand.Reader); err == nil {
		t.Error("an unknown kind was taken")
	}
	if _, err := New(Pallet, bytes.NewReader([]byte{1, 2})); !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Errorf("short randomness gives %v", err)
	}
}

func TestParseProblems(t *testing.T) {
	c := string(mustNew(t, Pallet, seeded(3)))
	wrong := []byte(c)
	wrong[3] = Alphabet[(strings.IndexByte(Alphabet, wrong[3])+1)%len(Alphabet)]
	unknown := string(complete(t, []byte("Q"+c[1:]), Length-1))
	for _, test := range []struct {
		input   string
		problem Problem
		reason  Reason
	}{
		{"", Empty, ""},
		{" \r\n\t", Empty, ""},
		{"73513537", Foreign, ""},                  // GTIN-8
		{"4012345000115", Foreign, ""},             // GTIN-13
		{"https://example.org/x", Foreign, ""},     // an address
		{unknown, Foreign, ""},                     // checks, but no kind of ours
		{"P4", Foreign, ""},                        // far too short
		{"ÄÖÜ45678", Foreign, ""},                  // other letters
		{strings.Repeat("P", 201), Foreign, ""},    // too long to look at
		{string(wrong), Mistyped, WrongCheck},      // one symbol wrong
		{c[:7], Mistyped, WrongLength},             // one missing
		{c + "2", Mistyped, WrongLength},           // one too many
		{c[:3] + "0" + c[4:], Mistyped, LookAlike}, // a digit we never print
		{c[:3] + "l" + c[4:], Mistyped, LookAlike},
	} {
		_, err := Parse(test.input)
		if e := wantProblem(t, test.input, err, test.problem); e.Reason != test.reason {
			t.Errorf("Parse(%q): reason %q, want %q", test.input, e.Reason, test.reason)
		}
		_, err = ParseScan(test.input)
		wantProblem(t, test.input, err, test.problem)
		for _, part := range []string{"othing was recorded", ". "} {
			if !strings.Contains(err.Error(), part) {
				t.Errorf("%q: %q lacks %q", test.input, err, part)
			}
		}
	}
}

func TestExchangedYZIsOnlySuggested(t *testing.T) {
	c, random := Code(""), seeded(4)
	for !strings.ContainsAny(string(c), "YZ") {
		c = mustNew(t, Pallet, random)
	}
	typed := swapYZ(string(c))
	_, err := ParseScan(typed)
	if e := wantProblem(t, typed, err, Mistyped); e.Maybe != c {
		t.Errorf("%s suggests %q, want %s", typed, e.Maybe, c)
	}
}

func TestRequire(t *testing.T) {
	c := mustNew(t, Sheet, seeded(5))
	e := wantProblem(t, string(c), c.Require(Pallet, Unit), WrongKind)
	if e.Got != Sheet {
		t.Errorf("got %v, want %v", e.Got, Sheet)
	}
	if want := "a pallet or unit build is needed here"; !strings.Contains(e.Error(), want) {
		t.Errorf("%q lacks %q", e, want)
	}
}
