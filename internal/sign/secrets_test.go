package sign

import (
	"crypto/rand"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"
)

func mustBadge(t *testing.T) Badge {
	t.Helper()
	b, err := NewBadge(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestBadgeReadsBack(t *testing.T) {
	const alphanumeric = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:" // ISO/IEC 18004
	for range 200 {
		b := mustBadge(t)
		text := b.Text()
		if len(text) > 35 || strings.Trim(text, alphanumeric) != "" {
			t.Fatalf("%q doesn't fit version 3 level H in alphanumeric mode", text)
		}
		for _, scanned := range []string{text, strings.ToLower(text), " " + text + "\r\n"} {
			if got, err := ParseBadge(scanned); err != nil || got != b {
				t.Fatalf("ParseBadge(%q) = %v", scanned, err)
			}
		}
		if !b.Matches(b.Hash()) || b.Matches(mustBadge(t).Hash()) {
			t.Fatal("a badge matches its own hash and no other")
		}
	}
}

// Scanner and computer set to different countries: the letters that change
// between US, German and French keyboards (common practice, no source).
func TestBadgeSurvivesKeyboards(t *testing.T) {
	german := strings.NewReplacer("Y", "Z", "Z", "Y")
	french := strings.NewReplacer("A", "Q", "Q", "A", "W", "Z", "Z", "W", "M", "?")
	for range 200 {
		text := mustBadge(t).Text()
		if german.Replace(text) != text || french.Replace(text) != text {
			t.Fatalf("%q is changed by a keyboard", text)
		}
	}
}

func TestBadgeRefuses(t *testing.T) {
	text := mustBadge(t).Text()
	for _, bad := range []string{"", "BDG", text[:34], text + "B", "X" + text[1:], text[:34] + "A", text[:34] + "2",
		"HTTPS://TAGALONG.EXAMPLE/P/P4K7M2QX/2", "P4K7M2QX", strings.Repeat("B", 1000)} {
		if _, err := ParseBadge(bad); !errors.Is(err, ErrNotBadge) || IsBadge(bad) {
			t.Errorf("%.40q: %v", bad, err)
		}
	}
}

func TestTabletSecretReadsBack(t *testing.T) {
	s, err := NewTabletSecret(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	got, err := ParseTabletSecret(s.Text())
	if err != nil || got != s || !s.Matches(got.Hash()) {
		t.Fatalf("read back: %v", err)
	}
	other, err := NewTabletSecret(rand.Reader)
	if err != nil || other.Matches(s.Hash()) {
		t.Fatalf("another secret matches (%v)", err)
	}
	text := s.Text()
	for _, bad := range []string{"", text[:42], text + "A", "!" + text[1:], strings.Repeat("A", 42) + "B"} {
		if _, err := ParseTabletSecret(bad); !errors.Is(err, ErrNotTablet) {
			t.Errorf("%q: %v", bad, err)
		}
	}
}

// No way of printing a secret shows it.
func TestSecretsStayHidden(t *testing.T) {
	badge := mustBadge(t)
	pin, err := ParsePIN("482913")
	if err != nil {
		t.Fatal(err)
	}
	code, err := NewOneTime(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	tablet, err := NewTabletSecret(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	key := testKey(t, 7)
	for _, format := range []string{"%v", "%+v", "%#v", "%s"} {
		shown := fmt.Sprintf(strings.Repeat(format+" ", 5), badge, pin, code, tablet, key)
		for _, secret := range []string{badge.Text(), "482913", code.Text(), code.symbols, tablet.Text(), strings.Repeat("\x07", 8), "0x7, 0x7", "7 7 7"} {
			if strings.Contains(shown, secret) {
				t.Errorf("%s shows %q: %s", format, secret, shown)
			}
		}
	}
}

func TestOneTime(t *testing.T) {
	ring := NewKeyring(testKey(t, 1))
	code, err := NewOneTime(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	made := time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)
	stored := StoredOneTime{Hash: ring.Hash(EnrolTablet, code), MadeAt: made, Purpose: EnrolTablet}
	typed, err := ParseOneTime(" " + strings.ToLower(code.Text()) + " ")
	if err != nil {
		t.Fatal(err)
	}
	other, err := NewOneTime(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	used := stored
	used.UsedAt = made.Add(time.Minute)
	relabelled := stored
	relabelled.Purpose = SetPIN
	for name, test := range map[string]struct {
		ring    Keyring
		purpose Purpose
		typed   OneTime
		stored  StoredOneTime
		at      time.Duration
		want    error
	}{
		"at once":              {ring, EnrolTablet, typed, stored, 0, nil},
		"last moment":          {ring, EnrolTablet, typed, stored, time.Hour - 1, nil},
		"an hour later":        {ring, EnrolTablet, typed, stored, time.Hour, ErrOneTimeExpired},
		"before it was made":   {ring, EnrolTablet, typed, stored, -time.Second, ErrOneTimeExpired},
		"used":                 {ring, EnrolTablet, typed, used, time.Minute * 2, ErrOneTimeUsed},
		"another code":         {ring, EnrolTablet, other, stored, 0, ErrOneTimeWrong},
		"another purpose":      {ring, SetPIN, typed, stored, 0, ErrOneTimeWrong},
		"row's purpose edited": {ring, SetPIN, typed, relabelled, 0, ErrOneTimeWrong},
		"another key":          {NewKeyring(testKey(t, 2)), EnrolTablet, typed, stored, 0, ErrOneTimeWrong},
	} {
		if err := test.ring.Check(test.purpose, test.typed, test.stored, made.Add(test.at)); !errors.Is(err, test.want) {
			t.Errorf("%s: %v, want %v", name, err, test.want)
		}
	}
	for _, bad := range []string{"", "2345678", "234567890", "2345678O", "2345 678!", strings.Repeat("2", 100)} {
		if _, err := ParseOneTime(bad); !errors.Is(err, ErrOneTimeShape) {
			t.Errorf("ParseOneTime(%q): %v", bad, err)
		}
	}
}

// Whatever is scanned, a badge that is read writes the same text again.
func FuzzParseBadge(f *testing.F) {
	for _, s := range []string{"", "BDG", "BDG" + strings.Repeat("B", 32), "bdg" + strings.Repeat("x", 32), "\xff", strings.Repeat("ß", 40)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		b, err := ParseBadge(s)
		if err != nil {
			if !errors.Is(err, ErrNotBadge) {
				t.Fatalf("%q: %v", s, err)
			}
			return
		}
		if again, err := ParseBadge(b.Text()); err != nil || again != b || !strings.EqualFold(strings.TrimSpace(s), b.Text()) {
			t.Fatalf("%q is read as %s", s, b.Text())
		}
	})
}

// Whatever stands in the database, reading it never panics, and what is read
// writes the same string again.
func FuzzParsePINHash(f *testing.F) {
	for _, s := range []string{"", "$", "$argon2id$v=19$m=19456,t=2,p=1,keyid=AAAAAAAA$" + strings.Repeat("A", 22) + "$" + strings.Repeat("A", 43), "$argon2id$v=19$m=-1,t=2,p=300,keyid=$$"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		h, err := parsePINHash(s)
		if err == nil && h.String() != s {
			t.Fatalf("%q is read as %q", s, h)
		}
		if err != nil && !errors.Is(err, ErrDamagedHash) {
			t.Fatalf("%q: %v", s, err)
		}
	})
}
