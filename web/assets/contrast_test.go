package assets

import (
	"fmt"
	"io/fs"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// luminance is the relative luminance of #rrggbb, 0 to 1, as WCAG 2.2 defines
// it (with the threshold 0.04045 of IEC 61966-2-1).
func luminance(t *testing.T, hex string) float64 {
	t.Helper()
	n, err := strconv.ParseUint(strings.TrimPrefix(hex, "#"), 16, 32)
	if err != nil || len(hex) != 7 {
		t.Fatalf("%q is no colour #rrggbb", hex)
	}
	linear := func(v uint64) float64 {
		c := float64(v&0xff) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*linear(n>>16) + 0.7152*linear(n>>8) + 0.0722*linear(n)
}

// contrast is WCAG 2.2's ratio, 1 to 21.
func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	x, y := luminance(t, a), luminance(t, b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// The ends are WCAG's own; the greys beside 4.5 are often quoted (from memory).
func TestContrastFormula(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want float64
	}{
		{"#000000", "#ffffff", 21}, {"#ffffff", "#ffffff", 1},
		{"#767676", "#ffffff", 4.54}, {"#777777", "#ffffff", 4.48}, {"#0000ff", "#ffffff", 8.59}, {"#ff0000", "#ffffff", 4.00},
	} {
		if got := contrast(t, c.a, c.b); math.Abs(got-c.want) > 0.005 {
			t.Errorf("%s on %s is %.3f, want %.2f", c.a, c.b, got, c.want)
		}
	}
}

// palette is the stylesheet's colours by name, by day or by night.
func palette(t *testing.T, sheet string, night bool) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, m := range regexp.MustCompile(`--([a-z-]+): (?:light-dark\((#[0-9a-f]{6}), (#[0-9a-f]{6})\)|(#[0-9a-f]{6}));`).FindAllStringSubmatch(sheet, -1) {
		out[m[1]] = m[2] + m[4]
		if night && m[3] != "" {
			out[m[1]] = m[3]
		}
	}
	if len(out) < 12 {
		t.Fatalf("only %d colours read: %v", len(out), out)
	}
	return out
}

func stylesheets(t *testing.T) map[string]string {
	t.Helper()
	names, err := fs.Glob(os.DirFS("."), "*.css")
	if err != nil || len(names) < 5 {
		t.Fatalf("stylesheets: %v, %v", names, err)
	}
	out := map[string]string{}
	for _, name := range names {
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		out[name] = regexp.MustCompile(`(?s)/\*.*?\*/`).ReplaceAllString(string(b), "")
	}
	return out
}

// A pair is a colour on a ground, with the least contrast it needs: 7:1 for main
// text (WCAG 2.2, 1.4.6), 4.5:1 for text beside it (1.4.3), 3:1 for lines and
// shapes (1.4.11).
type pair struct {
	colour, ground string
	least          float64
}

// Whatever a rule of any stylesheet sets as the colour of text is read on the
// ground the same rule sets, or on both of the page's.
func TestContrastOfEveryRule(t *testing.T) {
	const secondary = "soft stop fine"
	sheets := stylesheets(t)
	rule := regexp.MustCompile(`([^{}]+)\{([^{}]*)\}`)
	colour := regexp.MustCompile(`(?:^|[;\s])color: ?var\(--([a-z-]+)\)`)
	ground := regexp.MustCompile(`(?:^|[;\s])background(?:-color)?: ?var\(--([a-z-]+)\)`)
	noText := regexp.MustCompile(`::|video\s*$|\bi\.`) // a mark, a picture
	pairs := map[pair]string{}
	for name, css := range sheets {
		for _, r := range rule.FindAllStringSubmatch(css, -1) {
			set, on := "ink", []string{"paper", "sheet"}
			c, g := colour.FindStringSubmatch(r[2]), ground.FindStringSubmatch(r[2])
			if c == nil && (g == nil || noText.MatchString(r[1])) {
				continue
			}
			if c != nil {
				set = c[1]
			}
			if g != nil {
				on = g[1:]
			}
			for _, on := range on {
				least := 7.0
				if strings.Contains(secondary, set) {
					least = 4.5
				}
				pairs[pair{set, on, least}] = name + ": " + strings.TrimSpace(r[1])
			}
		}
	}
	for _, p := range []pair{{"ink", "paper", 3}, {"act", "paper", 3}, {"act", "sheet", 3}, {"stop", "sheet", 3}, {"stop-fill", "paper", 3}, {"fine", "paper", 3}, {"on-odd", "odd", 7}} {
		pairs[p] = "shapes and lines"
	}
	if len(pairs) < 16 {
		t.Errorf("only %d pairs of colours found", len(pairs))
	}
	for _, night := range []bool{false, true} {
		colours := palette(t, sheets["tagalong.css"], night)
		for p, where := range pairs {
			a, b := colours[p.colour], colours[p.ground]
			if a == "" || b == "" {
				t.Errorf("%s: no colour %s or %s", where, p.colour, p.ground)
				continue
			}
			if got := contrast(t, a, b); got < p.least {
				t.Errorf("night %v: %s on %s is %.2f:1, wants %v:1 (%s)", night, p.colour, p.ground, got, p.least, where)
			}
		}
		// White on the filled red, which is literal; and yellow, which its own
		// edge or its own brightness sets off.
		if got := contrast(t, "#ffffff", colours["stop-fill"]); got < 4.5 {
			t.Errorf("night %v: white on stop-fill is %.2f:1", night, got)
		}
		for _, on := range []string{"paper", "sheet"} {
			if got := max(contrast(t, colours["odd"], colours[on]), contrast(t, colours["on-odd"], colours[on])); got < 3 {
				t.Errorf("night %v: a yellow mark on %s is %.2f:1", night, on, got)
			}
		}
	}
}

// Day and night differ in one place: no stylesheet has a colour of its own, but
// for a code to be scanned, black on white, and the white of a cross on red.
func TestColoursAreNamed(t *testing.T) {
	literal := regexp.MustCompile(`#[0-9a-fA-F]{3,8}\b|\b(?:rgb|hsl|oklch|color)a?\(`)
	allowed := map[string]bool{
		"demo.css .demo-badge #fff":           true,
		"demo.css .demo-badge path #000":      true,
		"mine.css .made-link .symbol #fff":    true,
		"tagalong.css .shape.on-stop #ffffff": true,
	}
	for name, css := range stylesheets(t) {
		if name == "tagalong.css" {
			_, css, _ = strings.Cut(css, `:root[data-light="day"]`)
			css = `:root` + css
		}
		for _, r := range regexp.MustCompile(`([^{}]+)\{([^{}]*)\}`).FindAllStringSubmatch(css, -1) {
			for _, found := range literal.FindAllString(strings.ReplaceAll(r[2], "url(#hatch)", ""), -1) {
				if what := fmt.Sprintf("%s %s %s", name, strings.TrimSpace(r[1]), found); !allowed[what] {
					t.Errorf("a colour without a name: %s", what)
				}
			}
		}
	}
}
