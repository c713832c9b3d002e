package paper

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"strings"
	"testing"
	"unicode"

	"pgregory.net/rapid"
)

// The widths we lay out by are those the PDF library sets by.
func TestWidthsAgreeWithThePDFLibrary(t *testing.T) {
	s := newSheet(A4, "widths", "", at(25, 14, 0))
	s.addPage()
	for f := range faceCount {
		s.setFont(f, 10)
		for r := rune(0x20); r < 0x10000; r++ {
			if !faces()[f].has(r) {
				continue
			}
			if got, want := width(string(r), f, 10), s.pdf.GetStringWidth(string(r)); math.Abs(got-want) > 0.0041 {
				t.Fatalf("face %d, %U: %.4f mm, the library says %.4f", f, r, got, want)
			}
		}
	}
}

// anyText is what people and imports may write, and what nobody should.
func anyText() *rapid.Generator[string] {
	word := rapid.StringOfN(rapid.RuneFrom(nil, unicode.Latin, unicode.Greek, unicode.Cyrillic, unicode.Han, unicode.Nd, unicode.P, unicode.So, unicode.Mn, unicode.Cc, unicode.Cf), 0, 60, -1)
	return rapid.OneOf(
		rapid.String(), word,
		rapid.StringMatching(`[A-Z0-9-]{1,80}`),
		rapid.Map(rapid.SliceOfN(word, 0, 40), func(w []string) string { return strings.Join(w, " ") }),
		rapid.Just(strings.Repeat("W", 5000)),
		rapid.Just(strings.Repeat("weld the long seam ", 400)),
	)
}

func TestFitNeverExceeds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		str := anyText().Draw(t, "text")
		st := style{rapid.IntRange(0, faceCount-1).Draw(t, "face"), rapid.Float64Range(5, 60).Draw(t, "size")}
		w := rapid.Float64Range(2, 190).Draw(t, "w")
		h := rapid.Float64Range(style{size: min(least, st.size)}.line(), 100).Draw(t, "h")
		got := fit(str, st, w, h)
		if got.height() > h+1e-6 {
			t.Fatalf("%d lines of %g pt are %.2f mm high, the frame is %.2f", len(got.lines), got.style.size, got.height(), h)
		}
		for _, l := range got.lines {
			if lw := width(l, got.style.face, got.style.size); lw > w+1e-6 {
				t.Fatalf("%q is %.2f mm wide, the frame is %.2f", l, lw, w)
			}
		}
		if !got.short && w > 30 { // wide enough for every letter: nothing is lost
			kept, asked := strings.ReplaceAll(strings.Join(got.lines, ""), " ", ""), strings.ReplaceAll(clean(str), " ", "")
			if kept != asked {
				t.Fatalf("kept %q of %q", kept, asked)
			}
		}
	})
}

// placed is text on a page as it was drawn.
type placed struct {
	page  int
	frame rect
	ink   rect
	text  string
}

// watch records where text goes and fails what leaves its frame or the page.
func watch(t testing.TB, out *[]placed) func(*sheet) {
	return func(s *sheet) {
		s.placed = func(frame rect, txt text, xs, ws []float64) {
			const eps = 1e-6
			if txt.height() > frame.h+eps {
				t.Errorf("%q is %.2f mm high in a frame of %.2f", txt.lines, txt.height(), frame.h)
			}
			for i, l := range txt.lines {
				if xs[i] < frame.x-eps || xs[i]+ws[i] > frame.x+frame.w+eps {
					t.Errorf("%q is %.2f mm wide in a frame of %.2f", l, ws[i], frame.w)
				}
				ink := rect{xs[i], frame.y + float64(i)*txt.style.line(), ws[i], txt.style.line()}
				margin := 5.0
				if s.pageW < 140 { // a label printer prints nearer to the edge
					margin = 2
				}
				if ink.x < margin || ink.y < margin || ink.x+ink.w > s.pageW-margin+eps || ink.y+ink.h > s.pageH-margin {
					t.Errorf("%q leaves the printable page: %+v", l, ink)
				}
				*out = append(*out, placed{s.pdf.PageNo(), frame, ink, l})
			}
		}
	}
}

// noOverlap fails where two texts of a page lie on one another.
func noOverlap(t testing.TB, all []placed) {
	const eps = 0.05
	for i, a := range all {
		for _, b := range all[i+1:] {
			if a.page != b.page {
				continue
			}
			w := min(a.ink.x+a.ink.w, b.ink.x+b.ink.w) - max(a.ink.x, b.ink.x)
			h := min(a.ink.y+a.ink.h, b.ink.y+b.ink.h) - max(a.ink.y, b.ink.y)
			if w > eps && h > eps {
				t.Errorf("page %d: %q lies on %q by %.2f × %.2f mm", a.page, a.text, b.text, w, h)
			}
		}
	}
}

// quiet collects what a check finds, for rapid to shrink.
type quiet struct {
	testing.TB
	found []string
}

func (q *quiet) Errorf(format string, args ...any) {
	q.found = append(q.found, fmt.Sprintf(format, args...))
}

// However long or strange the words, no text leaves its frame or the page, and
// none lies on another.
func TestNoTextLeavesItsFrame(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		str := func(what string) string { return anyText().Draw(rt, what) }
		num := func(what string) int { return rapid.IntRange(0, 1_000_000_000).Draw(rt, what) }
		tr := Traveller{Code: str("code"), Address: exampleTraveller().Address, Print: num("print"), Replaces: num("replaces"),
			PrintedAt: at(25, 14, 6), PrintedWhere: str("where"), PrintedBy: str("by"), Shop: str("shop"), Notice: str("notice"), CarrierKg: float64(num("carrier"))}
		for range rapid.IntRange(0, 4).Draw(rt, "lots") {
			l := Lot{Letter: str("letter"), Item: str("item"), Name: str("name"), Revision: str("rev"), Order: str("order"), Line: str("line"),
				Customer: str("customer"), Promised: day(2026, 12, 3), Count: num("count"), MassEachKg: float64(num("mass")),
				Metal: Metal{Grade: str("grade"), Family: MetalFamily(num("family") % 4), ThicknessMM: 3}, HandMarking: str("hand"), CutHazard: num("hazard")%2 == 0}
			for range rapid.IntRange(0, 3).Draw(rt, "things") {
				l.Sheets = append(l.Sheets, Sheet{str("sheet"), str("heat")})
				l.Finish = append(l.Finish, Finish{str("face"), str("finish")})
				l.Holds = append(l.Holds, Hold{str("reason"), at(25, 9, 0), str("by"), str("release")})
				l.Concessions = append(l.Concessions, Concession{str("number"), str("reason"), []string{str("one"), str("two")}})
				l.Steps = append(l.Steps, Step{Kind: StepKind(num("kind") % 5), Stage: str("stage"), LookAt: str("look"), Done: num("done")%2 == 0,
					SignedBy: str("signed"), At: at(25, 9, 0), Good: num("good"), NotGood: num("bad"), HoldPoint: num("hold")%2 == 0, NotTheWelder: true, Next: true})
			}
			tr.Lots = append(tr.Lots, l)
		}
		q := &quiet{TB: t}
		try := func(err error, all *[]placed) {
			if err != nil {
				rt.Fatal(err)
			}
			noOverlap(q, *all)
			*all = nil
		}
		var all []placed
		see := watch(q, &all)
		for _, size := range Sizes() {
			try(writeTravellers(io.Discard, size, see, tr), &all)
		}
		container := ContainerLabel{Kind: str("kind"), Code: str("code"), Address: "C", Consignment: str("consignment"), No: num("no"), Of: num("of"), GrossKg: float64(num("gross")), Orders: []OrderPart{{str("order"), num("nth"), num("of")}, {Order: str("order")}},
			Customer: str("customer"), Site: str("site"), Leaves: day(2026, 12, 2), MassKg: float64(num("mass")), CutHazard: true, Shop: str("shop"), Notice: str("notice"),
			Contents: []Content{{num("count"), str("item"), str("name")}}, Marks: []Mark{Fragile, ThisWayUp, KeepDry}[:num("marks")%4]}
		try(writeContainerLabels(io.Discard, []ContainerLabel{container}, at(25, 9, 0), see), &all)
		place := PlaceSign{Shop: str("shop"), Store: str("store"), Place: rapid.StringMatching(`[A-Z0-9 ./-]{1,20}`).Draw(rt, "place"), Address: "T", Notice: str("notice")}
		try(writePlaceSigns(io.Discard, []PlaceSign{place, place}, at(25, 9, 0), see), &all)
		badge := Badge{Shop: str("shop"), Name: str("name"), Role: str("role"), Number: str("number"), Token: "T", Notice: str("notice")}
		try(writeBadges(io.Discard, []Badge{badge}, at(25, 9, 0), see), &all)
		sign := Sign{Shop: str("shop"), Name: str("name"), Code: str("code"), Address: "S", Stages: []string{str("stage"), str("stage")}, Cautions: []string{str("caution")}, Notice: str("notice")}
		try(writeStationSigns(io.Discard, []Sign{sign}, at(25, 9, 0), see), &all)
		list := linkedPackingList()
		list.Customer, list.ShipTo, list.Packaging, list.Code, list.PrintedBy = str("customer"), str("to"), str("packaging"), str("code"), str("by")
		list.Lines[0] = PackedLine{str("order"), str("ordered by"), str("line"), str("item"), str("name"), str("rev"), num("asked"), num("packed"), str("in"), str("when")}
		list.Packages[0] = Package{num("place"), str("code"), str("kind"), str("size"), float64(num("mass")), float64(num("gross")), str("note")}
		list.Missing[0] = MissingLine{str("order"), str("line"), str("item"), num("count"), str("where")}
		list.Remarks = []string{str("remark")}
		try(writePackingList(io.Discard, list, see), &all)
		if len(q.found) > 0 {
			rt.Fatal(strings.Join(q.found, "\n"))
		}
	})
}

func TestExamplesDontOverlap(t *testing.T) {
	for _, size := range Sizes() {
		for _, tr := range []Traveller{exampleTraveller(), longTraveller()} {
			var all []placed
			if err := writeTravellers(io.Discard, size, watch(t, &all), tr); err != nil {
				t.Fatal(err)
			}
			if len(all) < 40 {
				t.Fatalf("only %d lines of text", len(all))
			}
			noOverlap(t, all)
		}
	}
	var all []placed
	if err := writeContainerLabels(io.Discard, exampleContainers(), at(25, 9, 0), watch(t, &all)); err != nil {
		t.Fatal(err)
	}
	noOverlap(t, all)
}

// A letter B612 lacks is set in DejaVu Sans, one that both lack is a box; the
// sheet says so, and is silent otherwise.
func TestLettersTheFontLacks(t *testing.T) {
	tr := exampleTraveller()
	plain := draw(t, func(w io.Writer) error { return WriteTravellers(w, A4, tr) })
	tr.Lots[0].Name = "Kůň Łódź"
	tr.Lots[1].Name = "面 leaf \U0001F600"
	odd := draw(t, func(w io.Writer) error { return WriteTravellers(w, A4, tr) })
	if fonts := output(t, "pdffonts", odd); !strings.Contains(strings.ToLower(fonts), "dejavu") {
		t.Errorf("no fallback font:\n%s", fonts)
	}
	if fonts := output(t, "pdffonts", plain); strings.Contains(strings.ToLower(fonts), "dejavu") {
		t.Errorf("a fallback font that nothing needs:\n%s", fonts)
	}
	for i, page := range pageTexts(t, odd) {
		for _, want := range []string{"U+9762", "U+1F600", "fonts lack", "set in DejaVu Sans"} {
			if !strings.Contains(flat(page), want) {
				t.Errorf("page %d doesn't say %q", i+1, want)
			}
		}
	}
	all := flat(strings.Join(pageTexts(t, odd), " "))
	for _, want := range []string{"Kůň Łódź", "\u25AF leaf \u25AF"} {
		if !strings.Contains(all, want) {
			t.Errorf("no %q", want)
		}
	}
	if strings.Contains(flat(strings.Join(pageTexts(t, plain), " ")), "DejaVu") {
		t.Error("a note about letters that all are there")
	}
}

// A name no font of ours can set, or only turned round, is boxes on every form,
// and the sheet names the letters.
func TestNamesThatCannotBePrinted(t *testing.T) {
	tr := exampleTraveller()
	tr.Lots = tr.Lots[:1]
	tr.Lots[0].Name = "壁板 جدار דלת \U0001F9F1"
	container := exampleContainers()[:1]
	badge, sign, place, packing := exampleBadges()[:1], exampleSigns()[:1], examplePlaces()[:1], examplePackingList()
	container[0].Site, badge[0].Name, sign[0].Name, place[0].Store = tr.Lots[0].Name, tr.Lots[0].Name, tr.Lots[0].Name, tr.Lots[0].Name
	packing.Remarks = []string{tr.Lots[0].Name}
	for name, write := range map[string]func(io.Writer) error{
		"a4":         func(w io.Writer) error { return WriteTravellers(w, A4, tr) },
		"a5":         func(w io.Writer) error { return WriteTravellers(w, A5, tr) },
		"label":      func(w io.Writer) error { return WriteTravellers(w, Label, tr) },
		"containers": func(w io.Writer) error { return WriteContainerLabels(w, container, at(25, 9, 0)) },
		"badges":     func(w io.Writer) error { return WriteBadges(w, badge, at(25, 9, 0)) },
		"signs":      func(w io.Writer) error { return WriteStationSigns(w, sign, at(25, 9, 0)) },
		"places":     func(w io.Writer) error { return WritePlaceSigns(w, place, at(25, 9, 0)) },
		"packing":    func(w io.Writer) error { return WritePackingList(w, packing) },
	} {
		all := flat(strings.Join(pageTexts(t, draw(t, write)), " "))
		for _, want := range []string{"\u25AF\u25AF \u25AF\u25AF\u25AF\u25AF \u25AF\u25AF\u25AF \u25AF", "U+58C1", "U+677F", "U+062C", "fonts lack", "and more. The tablet shows it."} {
			if !strings.Contains(all, want) {
				t.Errorf("%s doesn't say %q: %s", name, want, all)
			}
		}
	}
}

func TestCutTextIsSaid(t *testing.T) {
	tr := exampleTraveller()
	tr.Lots[0].Name = strings.Repeat("very long name ", 60)
	pages := pageTexts(t, draw(t, func(w io.Writer) error { return WriteTravellers(w, A4, tr) }))
	if !strings.Contains(flat(pages[0]), "… text cut short here") {
		t.Error("text was cut and the sheet doesn't say so")
	}
}

func TestPicturesAndOutlines(t *testing.T) {
	tr := exampleTraveller()
	tr.Lots[0].Outline = Outline{Picture: examplePicture(t)}
	tr.Lots[1].Outline = Outline{Picture: []byte("no picture at all")}
	tr.Lots[2].Outline = Outline{Paths: [][]Point{{{math.NaN(), 0}, {math.Inf(1), 2}}}}
	pdf := draw(t, func(w io.Writer) error { return WriteTravellers(w, A4, tr) })
	if images := output(t, "pdfimages", "-list", pdf); strings.Count(images, "\n") != 3 || !strings.Contains(images, "jpeg") {
		t.Errorf("want one picture:\n%s", images)
	}
	all := strings.Join(pageTexts(t, pdf), " ")
	for _, want := range []string{"picture can't be read", "no picture"} {
		if !strings.Contains(all, want) {
			t.Errorf("no %q", want)
		}
	}
	var twice bytes.Buffer
	if err := WriteTravellers(&twice, A4, tr, tr); err != nil {
		t.Fatal(err)
	}
	if n := bytes.Count(twice.Bytes(), []byte("/Subtype /Image")); n != 1 {
		t.Errorf("the same picture is stored %d times", n)
	}
}

func examplePicture(t *testing.T) []byte {
	t.Helper()
	img := image.NewNRGBA(image.Rect(0, 0, 900, 500))
	for x := range 900 {
		img.Set(x, x*500/900, color.NRGBA{A: 200})
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
