package code_test

import (
	"net/url"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tagalong/internal/code"
)

const shopBase = "https://tagalong.example:8443"

func TestSignAddresses(t *testing.T) {
	for want, p := range map[string]code.Place{
		"HTTPS://TAGALONG.EXAMPLE:8443/T/WELD-1":               {Station: "weld-1"},
		"HTTPS://TAGALONG.EXAMPLE:8443/T/STORE-1/C4":           {Station: "STORE-1", Slot: "C4"},
		"HTTPS://TAGALONG.EXAMPLE:8443/T/STORE-1/EAST%201":     {Station: "STORE-1", Slot: "EAST 1"},
		"HTTPS://TAGALONG.EXAMPLE:8443/T/HALL%5F2/4%2F7%25":    {Station: "HALL_2", Slot: "4/7%"},
		"HTTPS://TAGALONG.EXAMPLE:8443/T/S%C3%84GE/FLOOR%2BA.": {Station: "SÄGE", Slot: "FLOOR+A."},
	} {
		got := code.PlaceAddress(shopBase, p)
		if got != want {
			t.Errorf("%+v: %s, want %s", p, got, want)
		}
		if i := strings.IndexFunc(got, func(r rune) bool { return !strings.ContainsRune(code.Alphanumeric, r) }); i >= 0 {
			t.Errorf("%s holds %q, outside alphanumeric mode", got, got[i])
		}
		if _, err := code.QR(got); err != nil {
			t.Errorf("%s: %v", got, err)
		}
	}
}

// Any name comes back from its sign, and the standard library reads the address
// to the same path.
func TestSignsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.StringMatching(`[A-Z0-9 $%*+./:_Ä-]{1,20}`).Filter(func(s string) bool { return strings.TrimSpace(s) == s })
		p := code.Place{Station: name.Draw(t, "station")}
		if rapid.Bool().Draw(t, "has a slot") {
			p.Slot = name.Draw(t, "slot")
		}
		address := code.PlaceAddress(shopBase, p)
		if got := code.ReadPlaces(address); !slices.Equal(got, []code.Place{p}) {
			t.Fatalf("%s reads to %+v, want %+v", address, got, p)
		}
		u, err := url.Parse(address)
		if err != nil {
			t.Fatal(err)
		}
		want := "/T/" + p.Station
		if p.Slot != "" {
			want += "/" + p.Slot
		}
		if u.Path != want {
			t.Fatalf("%s has the path %q, want %q", address, u.Path, want)
		}
	})
}

func TestSignsAsTheyArrive(t *testing.T) {
	slot := code.Place{Station: "STORE-1", Slot: "C4"}
	for text, want := range map[string]code.Place{
		"https://other.example/t/store-1/c4\r":     slot, // the sign outlives the server's name
		"]Q1HTTPS://TAGALONG.EXAMPLE/T/STORE-1/C4": slot,
		"/T/STORE-1/C4": slot,
		"HTTPSÖ--TAGALONG.EXAMPLEÖ8443-T-STOREß1-C4": slot, // a German computer, a US scanner
	} {
		if got := code.ReadPlaces(text); !slices.Contains(got, want) {
			t.Errorf("%q reads to %+v, want %+v", text, got, want)
		}
	}
	for _, text := range []string{"", "C4", "STORE-1", "P4K7M2QX", shopBase + "/P/P4K7M2QX/2", shopBase + "/T/", shopBase + "/T/STORE-1/C4/9",
		shopBase + "/T/STORE-1/%ZZ", shopBase + "/find", "https://T/STORE-1/C4", strings.Repeat("/T/A", 200)} {
		if got := code.ReadPlaces(text); len(got) > 0 {
			t.Errorf("%q reads to %+v", text, got)
		}
	}
}

// Nothing that was meant for a code, or comes off a bought item's box, is taken
// for the name of a slot.
func TestPlaceNames(t *testing.T) {
	for text, want := range map[string]string{
		"c4": "C4", " East 12 ": "EAST 12", "C12-TOP": "C12-TOP", "FLOOR": "FLOOR", "WELD-1": "WELD-1", "STORE-1": "STORE-1", "0412": "0412",
		"P4K7M2QX": "", "p4k7 m2qy": "", "P4K7M2Q": "", "S4K7M2QX2": "", "": "", " - ": "",
		"40063813": "", "4006381333931": "", // EAN-8 and EAN-13
		"https://x.example": "", "A/4": "", "Ä1": "", "THE SHELF BEHIND": "",
	} {
		got, ok := code.PlaceName(text)
		if got != want || ok != (want != "") {
			t.Errorf("%q is the name %q, %t; want %q", text, got, ok, want)
		}
	}
}
