package code

import (
	"strings"
	"testing"
)

func TestCapacityIsTheStandards(t *testing.T) {
	for _, c := range cases(t, "qr.json", "qr/capacity") {
		in := decode[struct{ Version int }](t, c.Input)
		want := decode[struct {
			Modules      int
			Alphanumeric map[string]int
		}](t, c.Expect)
		for _, level := range []Level{LevelQ, LevelH} {
			most := want.Alphanumeric[string(rune(level))]
			full, err := qrAt(strings.Repeat("A", most), level)
			if err != nil {
				t.Fatal(err)
			}
			over, err := qrAt(strings.Repeat("A", most+1), level)
			if err != nil {
				t.Fatal(err)
			}
			if full.Version != in.Version || over.Version != in.Version+1 {
				t.Errorf("%s level %c: %d characters take version %d, one more takes %d (%s)", c.ID, level, most, full.Version, over.Version, c.Source)
			}
			if got := full.Size() - 2*QuietZone; got != want.Modules {
				t.Errorf("%s level %c: %d modules, want %d (%s)", c.ID, level, got, want.Modules, c.Source)
			}
		}
	}
}

func TestModeAndVersion(t *testing.T) {
	for _, c := range cases(t, "qr.json", "qr/mode-and-version") {
		in := decode[struct{ Text, Level string }](t, c.Input)
		want := decode[struct {
			Mode    string
			Version int `json:"smallest_version"`
		}](t, c.Expect)
		if want.Mode != "alphanumeric" {
			if _, err := QR(in.Text); err == nil {
				t.Errorf("%s: %q needs byte mode and was taken (%s)", c.ID, in.Text, c.Source)
			}
			continue
		}
		symbol, err := qrAt(in.Text, Level(in.Level[0]))
		if err != nil {
			t.Fatal(err)
		}
		if symbol.Version != want.Version {
			t.Errorf("%s: version %d, want %d (%s)", c.ID, symbol.Version, want.Version, c.Source)
		}
	}
}

func TestQuietZoneAndSet(t *testing.T) {
	want := decode[struct {
		Quiet int    `json:"quiet_zone_modules_each_side"`
		Set   string `json:"alphanumeric_set"`
	}](t, cases(t, "qr.json", "qr/layout")[0].Expect)
	if Alphanumeric != want.Set || QuietZone != want.Quiet {
		t.Errorf("set %q, quiet zone %d, want %q, %d", Alphanumeric, QuietZone, want.Set, want.Quiet)
	}
	symbol, err := QR("HTTPS://TAGALONG.EXAMPLE:8443/P/P4K7M2QX/2")
	if err != nil {
		t.Fatal(err)
	}
	size := symbol.Size()
	if size != 17+4*symbol.Version+2*want.Quiet {
		t.Errorf("version %d has side %d", symbol.Version, size)
	}
	for y := range size {
		for x := range size {
			edge := min(x, y, size-1-x, size-1-y)
			if edge < want.Quiet && symbol.Dark(x, y) {
				t.Fatalf("dark module at %d,%d in the quiet zone", x, y)
			}
			// The outer ring of the three finders is dark: the zone is no wider.
			inFinder := min(x, size-1-x) < want.Quiet+7 && min(y, size-1-y) < want.Quiet+7
			bottomRight := x > size/2 && y > size/2
			if edge == want.Quiet && inFinder && !bottomRight && !symbol.Dark(x, y) {
				t.Fatalf("light module at %d,%d on a finder's edge", x, y)
			}
		}
	}
}

func TestLevelHUpToVersion6ThenQ(t *testing.T) {
	for n := 1; n <= 220; n++ {
		symbol, err := QR(strings.Repeat("A", n))
		if err != nil {
			t.Fatal(err)
		}
		// 84 characters is version 6 at level H (ISO/IEC 18004 table 7).
		if want := map[bool]Level{true: LevelH, false: LevelQ}[n <= 84]; symbol.Level != want {
			t.Errorf("%d characters: version %d level %c, want level %c", n, symbol.Version, symbol.Level, want)
		}
	}
}

func TestLongestAddressFitsVersion6(t *testing.T) {
	base := "https://" + strings.Repeat("a", maxBase-len("https://"))
	if err := CheckBase(base); err != nil {
		t.Fatal(err)
	}
	symbol, err := QR(Address(base, "P4K7M2QX", MaxPrint))
	if err != nil {
		t.Fatal(err)
	}
	if symbol.Version != 6 || symbol.Level != LevelH {
		t.Errorf("the longest address takes version %d level %c, want 6 H", symbol.Version, symbol.Level)
	}
}

func TestQRRefuses(t *testing.T) {
	for _, bad := range []string{"", "https://lower.case", "A?B", "A_B", "É", strings.Repeat("A", 5000)} {
		if _, err := QR(bad); err == nil {
			t.Errorf("QR(%.20q) took it", bad)
		}
	}
}

// The path, the runs and the picture draw the same modules.
func TestDrawings(t *testing.T) {
	symbol, err := QR("HTTPS://TAGALONG.EXAMPLE/T/T23456K")
	if err != nil {
		t.Fatal(err)
	}
	drawn := 0
	symbol.Runs(func(x, y, width int) {
		for i := range width {
			if !symbol.Dark(x+i, y) {
				t.Fatalf("run covers the light module %d,%d", x+i, y)
			}
			drawn++
		}
	})
	const scale = 3
	img := symbol.Image(scale)
	dark := 0
	for y := range symbol.Size() {
		for x := range symbol.Size() {
			if symbol.Dark(x, y) {
				dark++
			}
			if (img.ColorIndexAt(x*scale+1, y*scale+1) == 1) != symbol.Dark(x, y) {
				t.Fatalf("picture differs at module %d,%d", x, y)
			}
		}
	}
	if drawn != dark {
		t.Errorf("runs draw %d modules, the symbol has %d", drawn, dark)
	}
	svg := symbol.SVG()
	if strings.Count(svg, "<path") != 1 || strings.Contains(svg, "style") || strings.Contains(svg, "fill") {
		t.Errorf("want one path without style: %.120s", svg)
	}
	if _, err := symbol.PNG(0); err == nil {
		t.Error("PNG took a scale of 0")
	}
}
