package code

import (
	"strings"
	"testing"
)

// keyboards press what a scanner sends, written down here apart from the
// tables in layouts.go: for each printed character, what the computer shows.
// Layouts as national drivers ship them (common practice, no source).
var keyboards = map[string]*strings.Replacer{
	"German computer": strings.NewReplacer("Y", "Z", "Z", "Y", ":", "Ö", "/", "-", "-", "ß"),
	"German computer, caps lock": strings.NewReplacer("Y", "z", "Z", "y", ":", "ö", "/", "_", "-", "?",
		"H", "h", "T", "t", "P", "p", "S", "s"),
	"French computer": strings.NewReplacer("A", "Q", "Q", "A", "Z", "W", "W", "Z", "M", "?", ":", "M",
		"/", "!", ".", ":", "-", ")", "1", "&", "2", "é", "3", "\"", "4", "'", "5", "(", "6", "-", "7", "è", "8", "_", "9", "ç", "0", "à"),
	"French computer, caps lock": strings.NewReplacer("A", "q", "Q", "a", "Z", "w", "W", "z", "M", ",", ":", "m",
		"/", "§", ".", "/", "-", "°"),
	"German scanner, US computer": strings.NewReplacer("Y", "Z", "Z", "Y", ":", ">", "/", "&", "-", "/"),
	"French scanner, US computer": strings.NewReplacer("A", "Q", "Q", "A", "Z", "W", "W", "Z", "M", ":", ":", ".",
		"/", ">", ".", "<", "-", "6", "1", "!", "2", "@", "3", "#", "4", "$", "5", "%", "6", "^", "7", "&", "8", "*", "9", "(", "0", ")"),
	"shift inverted": strings.NewReplacer("1", "!", "2", "@", "3", "#", "4", "$", "5", "%", "6", "^", "7", "&", "8", "*", "9", "(", "0", ")",
		":", ";", "/", "?", ".", ">", "-", "_", "P", "p", "S", "s"),
	"Spanish computer":   strings.NewReplacer(":", "Ñ", "/", "-", "-", "'"),
	"Italian computer":   strings.NewReplacer(":", "ç", "/", "-", "-", "'"),
	"Swiss computer":     strings.NewReplacer("Y", "Z", "Z", "Y", ":", "é", "/", "-", "-", "'"),
	"Norwegian computer": strings.NewReplacer(":", "Ø", "/", "-", "-", "+"),
	"caps lock":          strings.NewReplacer("P", "p", "H", "h", "T", "t", "S", "s", "K", "k"),
	"AIM identifier":     strings.NewReplacer("HTTPS", "]Q3HTTPS", "HTTP:", "]Q3HTTP:"),
	"as printed":         strings.NewReplacer(),
}

func TestScannedAddresses(t *testing.T) {
	random := seeded(6)
	for name, keyboard := range keyboards {
		t.Run(name, func(t *testing.T) {
			for _, kind := range Kinds() {
				for n := range 300 {
					want := Scan{Code: mustNew(t, kind, random), Print: n}
					for _, base := range []string{"https://tagalong.example:8443", "http://192.168.7.40:8080/", "HTTPS://MY-SHOP.EXAMPLE"} {
						text := keyboard.Replace(Address(base, want.Code, want.Print))
						for _, end := range []string{"", "\r", "\n", "\t"} {
							if got, err := ParseScan(text + end); err != nil || got != want {
								t.Fatalf("%q gives %+v, %v, want %+v", text, got, err, want)
							}
						}
					}
				}
			}
		})
	}
}

// A bare code has no scheme to tell the keyboard by, so now and then it can be
// read in two ways and is refused; it is never read as another code.
func TestScannedBareFrenchCode(t *testing.T) {
	random := seeded(7)
	read, refused := 0, 0
	for range 2000 {
		c := mustNew(t, Pallet, random)
		text := keyboards["French computer"].Replace(string(c))
		if !strings.ContainsFunc(strings.ToUpper(text), neverTyped) {
			continue // letters only: as well a slip of the finger
		}
		got, err := ParseScan(text)
		switch {
		case err != nil:
			if e := wantProblem(t, text, err, Mistyped); e.Reason != TwoReadings {
				t.Fatalf("%q is refused for %s", text, e.Reason)
			}
			refused++
		case got.Code != c:
			t.Fatalf("%q gives %v, want %v", text, got, c)
		default:
			read++
		}
	}
	if read < 1000 || refused > read/10 {
		t.Fatalf("read %d, refused %d", read, refused)
	}
}

// A damaged or foreign address is refused, whatever the host.
func TestScanRefuses(t *testing.T) {
	c := mustNew(t, Pallet, seeded(8))
	other := mustNew(t, Sheet, seeded(9))
	wrong := []byte(c)
	wrong[5] = Alphabet[(strings.IndexByte(Alphabet, wrong[5])+7)%len(Alphabet)]
	const base = "HTTPS://TAGALONG.EXAMPLE"
	for _, test := range []struct {
		text    string
		problem Problem
	}{
		{base + "/P/" + string(wrong) + "/2", Mistyped},
		{base + "/P/" + string(c[:7]) + "/2", Mistyped},
		{base + "/S/" + string(c) + "/2", Foreign},  // kind and code disagree
		{base + "/P/" + string(other), Foreign},     // likewise
		{base + "/P/" + string(c) + "/0", Foreign},  // no print 0
		{base + "/P/" + string(c) + "/02", Foreign}, // leading zero
		{base + "/P/" + string(c) + "/1000000", Foreign},
		{base + "/P/" + string(c) + "/2/3", Foreign},
		{base + "/ORDERS/" + string(c), Foreign},
		{"HTTPS://EXAMPLE.ORG/", Foreign},
		{"HTTPS://EXAMPLE.ORG/P/SALE", Foreign},
		{"WIFI:T:WPA;S:SHOP;P:SECRET;;", Foreign},
		{"]Q1", Empty},
		{base + "/P/" + string(c) + strings.Repeat("/", 200), Foreign},
	} {
		_, err := ParseScan(test.text)
		wantProblem(t, test.text, err, test.problem)
	}
}

func TestAddress(t *testing.T) {
	c := Code("P4K7M2QX")
	for _, test := range []struct {
		base  string
		print int
		want  string
	}{
		{"https://tagalong.example:8443", 2, "HTTPS://TAGALONG.EXAMPLE:8443/P/P4K7M2QX/2"},
		{"https://tagalong.example:8443/", 12, "HTTPS://TAGALONG.EXAMPLE:8443/P/P4K7M2QX/12"},
		{"http://10.0.0.7", 0, "HTTP://10.0.0.7/P/P4K7M2QX"},
	} {
		if got := Address(test.base, c, test.print); got != test.want {
			t.Errorf("Address(%q, %v, %d) = %q, want %q", test.base, c, test.print, got, test.want)
		}
	}
}

func TestCheckBase(t *testing.T) {
	for _, good := range []string{"https://tagalong.example:8443", "http://10.0.0.7:8080/", "https://my-shop.example"} {
		if err := CheckBase(good); err != nil {
			t.Errorf("CheckBase(%q): %v", good, err)
		}
	}
	for _, bad := range []string{"", "tagalong", "ftp://x", "https://", "https://x/y", "https://x?y", "https://u:p@x", "https://x#y",
		"https://my_shop", "https://[fe80::1]:8443", "https://" + strings.Repeat("a", 60) + ".example", "https://bücher.example"} {
		if err := CheckBase(bad); err == nil {
			t.Errorf("CheckBase(%q) took it", bad)
		}
	}
}

// Whatever comes in, nothing panics, what is taken is valid, and the printed
// form of what was taken reads back as the same.
func FuzzParseScan(f *testing.F) {
	c := mustNew(f, Pallet, seeded(10))
	for _, keyboard := range keyboards {
		f.Add(keyboard.Replace(Address("https://tagalong.example", c, 3)))
	}
	for _, s := range []string{"", string(c), c.Spaced(), "]Q3", "\xff\xfe", strings.Repeat("ẞ", 199), "HTTP/P/" + string(c), "//P//", "HTTP"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		scan, err := ParseScan(s)
		if err != nil {
			if scan != (Scan{}) {
				t.Fatalf("%q gives both %+v and %v", s, scan, err)
			}
			if _, ok := err.(*Error); !ok || err.Error() == "" {
				t.Fatalf("%q gives an error without a type: %v", s, err)
			}
			return
		}
		if !valid(string(scan.Code)) || !scan.Code.Kind().Known() || scan.Print < 0 || scan.Print > MaxPrint {
			t.Fatalf("%q gives %+v", s, scan)
		}
		again, err := ParseScan(Address("https://tagalong.example", scan.Code, scan.Print))
		if err != nil || again != scan {
			t.Fatalf("%+v reads back as %+v, %v", scan, again, err)
		}
	})
}
