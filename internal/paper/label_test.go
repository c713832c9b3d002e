package paper

import (
	"fmt"
	"image"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

func TestLabelSaysWhatFits(t *testing.T) {
	all := flat(strings.Join(pageTexts(t, draw(t, documents["label"])), " ") + output(t, "pdftotext", draw(t, documents["label"]), "-"))
	for _, want := range []string{
		"P4K7 M2QX", "print 2, replaces 1", "Wed 25 Nov 2026 14:06, Separation bench 1", "4117 Larkfield Hospital, north roof, lots A, B",
		"4120 Oxbow School, plant deck, lot C", "Thu 3 Dec 2026", "Wed 9 Dec", "24 parts in 3 lots", "53.0 kg", "5005-H32, 3 mm",
		"Move the pallet by truck. Empty pallet 18.0 kg more.", "HELD", "Scratches on the face side", "CONCESSION", "reason and signatures stand on the A4",
		"ENC-2400-W2 rev C", "ENC-1800-B7 rev A, CUT HAZARD", "edge-round", "without power, sign here", "Double square: hold point", "Site rules, local codes and licensed people come first", "Invented demo data",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("the label doesn't say %q", want)
		}
	}
	if strings.Contains(all, ellipsis) {
		t.Error("the example is cut short")
	}
}

// What finds no room is counted: the lots drawn and the lots counted are all.
func TestLabelCountsWhatItLeavesOut(t *testing.T) {
	for _, n := range []int{0, 1, 2, 3, 6, 7, 40} {
		tr := longTraveller()
		for len(tr.Lots) < n {
			tr.Lots = append(tr.Lots, tr.Lots[len(tr.Lots)%6])
		}
		tr.Lots = slices.Clone(tr.Lots[:n])
		for i := range tr.Lots {
			tr.Lots[i].Item, tr.Lots[i].Count = fmt.Sprintf("LOT-%d.", i), 3
		}
		pages := pageTexts(t, draw(t, func(w io.Writer) error { return WriteTravellers(w, Label, tr) }))
		if len(pages) != 1 {
			t.Fatalf("%d lots take %d labels", n, len(pages))
		}
		shown := len(regexp.MustCompile(`LOT-\d+\.`).FindAllString(pages[0], -1))
		said := 0
		if m := regexp.MustCompile(`(\d+) more lots? of (\d+) parts: see the A4 traveller`).FindStringSubmatch(flat(pages[0])); m != nil {
			said, _ = strconv.Atoi(m[1])
			if parts, _ := strconv.Atoi(m[2]); parts != 3*said {
				t.Errorf("%d lots: %d left out hold %d parts", n, said, parts)
			}
		}
		if shown+said != n || n > 0 && shown == 0 {
			t.Errorf("%d lots: %d shown, %d left out", n, shown, said)
		}
		for _, want := range []string{tr.Code, "print 1, the first", map[bool]string{true: "nothing on this pallet", false: "Larkfield Hospital"}[n == 0]} {
			if !strings.Contains(flat(pages[0]), want) {
				t.Errorf("%d lots: no %q", n, want)
			}
		}
	}
}

// On a label printer's dots every bar of the code is a whole number of them:
// each stretch of a row through the symbol measures a multiple of six.
func TestLabelCodeIsWholeDots(t *testing.T) {
	var want struct {
		Dots float64 `json:"dots_per_mm"`
	}
	findCheck(t, "label-printer-dots", &want)
	root := t.TempDir() + "/label"
	output(t, "pdftoppm", "-r", fmt.Sprint(want.Dots*25.4), "-gray", "-png", draw(t, documents["label"]), root)
	img := load(t, root+"-1.png")
	const module = int(labelModule / dot)
	f := formLabel
	x0, y0 := int(math.Round((f.frameX+0.5)*want.Dots)), int(math.Round((f.frameY+0.5)*want.Dots))
	const side = 45 * module
	runs := 0
	for y := y0 + 4*module; y < y0+41*module; y++ {
		from := x0
		for x := x0; x <= x0+side; x++ {
			if v := img.At(x, y); x < x0+side && !isBlackOrWhite(v) {
				t.Fatalf("grey %v at dot %d, %d of the code", v, x-x0, y-y0)
			}
			if x > x0 && (x == x0+side || dark(img, x, y) != dark(img, x-1, y)) {
				if (x-from)%module != 0 {
					t.Fatalf("a bar of %d dots at %d, %d, modules have %d", x-from, from-x0, y-y0, module)
				}
				from, runs = x, runs+1
			}
		}
	}
	if runs < 1000 {
		t.Errorf("only %d bars", runs)
	}
}

func isBlackOrWhite(c interface{ RGBA() (r, g, b, a uint32) }) bool {
	r, _, _, _ := c.RGBA()
	return r < 0x5000 || r > 0xa000 // poppler shades an edge a hundredth of a dot off
}

// A label printer has no grey and no line finer than a dot: everything is
// filled black or white, and lines are two dots or more.
func TestLabelsAreBlackOnWhite(t *testing.T) {
	for name, write := range map[string]func(io.Writer, func(*sheet)) error{
		"traveller": func(w io.Writer, p func(*sheet)) error { return writeTravellers(w, Label, p, exampleTraveller()) },
		"containers": func(w io.Writer, p func(*sheet)) error {
			return writeContainerLabels(w, exampleContainers(), at(25, 9, 0), p)
		},
	} {
		var b strings.Builder
		if err := write(&b, func(s *sheet) { s.pdf.SetCompression(false) }); err != nil {
			t.Fatal(err)
		}
		greys := regexp.MustCompile(`(?m)([0-9.]+) [gG]\b`).FindAllStringSubmatch(b.String(), -1)
		for _, m := range greys {
			if v, _ := strconv.ParseFloat(m[1], 64); v != 0 && v != 1 {
				t.Errorf("%s: painted grey %s", name, m[1])
			}
		}
		widths := regexp.MustCompile(`(?m)^([0-9.]+) w$`).FindAllStringSubmatch(b.String(), -1)
		for _, m := range widths {
			if v, _ := strconv.ParseFloat(m[1], 64); v*mmPerPoint < 2*dot-0.01 {
				t.Errorf("%s: a line of %.3f mm", name, v*mmPerPoint)
			}
		}
		if len(greys) == 0 || len(widths) == 0 {
			t.Errorf("%s: %d greys and %d widths found", name, len(greys), len(widths))
		}
	}
}

func TestContainerLabelsSayAllOfIt(t *testing.T) {
	var marks map[string]string
	findCheck(t, "iso-780-marks", &marks)
	pages := pageTexts(t, draw(t, documents["containers"]))
	if len(pages) != 3 {
		t.Fatalf("%d labels", len(pages))
	}
	for i, want := range [][]string{
		{"P4K7 M2QX", "C7TW 5HGE", "1 of 3", "Larkfield Hospital, north roof, gate 3", "Larkfield Hospital Estates", "4117 (1 of 3)", "gross mass, weighed", "Gross 96.5 kg", "Printed", "Wed 2 Dec 2026", "2 × ENC-2400-X1 rev B, wall panel, louvre side",
			"more items, named on the packing list", "Sharp edges inside", "by truck", "licensed people come first", "Invented demo data"},
		{"PKM2 7QA4", "2 of 3", "box", "1 × KIT-2400 rev A", "4117 (2 of 3)", "11.2 kg", "one person"},
		{"P9CD 2FHT", "not numbered", "on none yet", "4120, 4121", "Mass not known"},
	} {
		for _, w := range want {
			if !strings.Contains(flat(pages[i]), w) {
				t.Errorf("label %d doesn't say %q:\n%s", i+1, w, pages[i])
			}
		}
	}
	for m := range marks {
		if !strings.Contains(flat(pages[0]), m) || strings.Contains(flat(pages[2]), m) {
			t.Errorf("the mark %q stands on the wrong label", m)
		}
	}
	if len(marks) != 3 {
		t.Errorf("%d marks in the check", len(marks))
	}
}

// "This way up" is two arrows that point up, over a line (ISO 780): measured on
// the label as drawn.
func TestThisWayUpPointsUp(t *testing.T) {
	const dpi = 300
	img := load(t, render(t, draw(t, documents["containers"]), dpi)[0])
	px := func(mm float64) int { return int(math.Round(mm / 25.4 * dpi)) }
	f := formLabel
	cellW := f.frameW / 3
	cell := image.Rect(px(f.frameX+cellW+1), px(f.frameY+f.frameH-6-25+1), px(f.frameX+2*cellW-1), px(f.frameY+f.frameH-6-5))
	ink := func(y int) (runs, most int) {
		n := 0
		for x := cell.Min.X; x <= cell.Max.X; x++ {
			if x < cell.Max.X && dark(img, x, y) {
				n++
				continue
			}
			if n > 0 {
				runs, most = runs+1, max(most, n)
			}
			n = 0
		}
		return runs, most
	}
	var rows []int
	for y := cell.Min.Y; y < cell.Max.Y; y++ {
		if runs, _ := ink(y); runs > 0 {
			rows = append(rows, y)
		}
	}
	if len(rows) < px(10) {
		t.Fatalf("a mark of %d rows", len(rows))
	}
	runs, tip := ink(rows[2])
	_, head := ink(rows[len(rows)/3-4])
	shafts, shaft := ink(rows[len(rows)*2/3])
	lines, line := ink(rows[len(rows)-2])
	if runs != 2 || shafts != 2 || lines != 1 || tip*2 > head || shaft*2 > head || line < 2*head {
		t.Errorf("tips %d of %d px, heads %d px, shafts %d of %d px, line %d of %d px", runs, tip, head, shafts, shaft, lines, line)
	}
}

// The code of a slot leads to it, and its name is what people read and type.
func TestPlaceSignsAreRead(t *testing.T) {
	places := examplePlaces()
	var got, want []string
	for _, page := range render(t, draw(t, documents["places"]), 200) {
		got = append(got, zbar(t, page)...)
	}
	pages := flat(strings.Join(pageTexts(t, draw(t, documents["places"])), " "))
	for _, p := range places {
		want = append(want, p.Address)
		if !strings.Contains(pages, p.Place) {
			t.Errorf("no %q in letters", p.Place)
		}
	}
	slices.Sort(got)
	slices.Sort(want)
	if !slices.Equal(got, want) {
		t.Errorf("zbarimg read %q, want %q", got, want)
	}
	one := draw(t, func(w io.Writer) error { return WritePlaceSigns(w, places[:1], at(25, 14, 0)) })
	if got := zxing(t, load(t, render(t, one, 200)[0])); got != places[0].Address {
		t.Errorf("gozxing read %q", got)
	}
	places[0].Address = "https://tagalong.example/t/store-1/c4"
	if err := WritePlaceSigns(io.Discard, places, at(25, 14, 0)); err == nil || !strings.Contains(err.Error(), places[0].Place) {
		t.Errorf("small letters: %v", err)
	}
}

func TestSizesByName(t *testing.T) {
	for _, z := range Sizes() {
		if got, err := ParseSize(strings.ToUpper(z.String())); err != nil || got != z {
			t.Errorf("%v: %v, %v", z, got, err)
		}
		if w, h := z.MM(); w >= h || z.Title() == "" {
			t.Errorf("%v is %g × %g", z, w, h)
		}
	}
	if _, err := ParseSize("letter"); err == nil || !strings.Contains(err.Error(), "a4, a5, label") {
		t.Error(err)
	}
}
