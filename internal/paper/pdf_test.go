package paper

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

// draw writes a document into a file and returns its name.
func draw(t *testing.T, write func(io.Writer) error) string {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(name, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return name
}

func output(t *testing.T, name string, args ...string) string {
	t.Helper()
	cmd := exec.Command(name, args...)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, stderr.String())
	}
	return string(out)
}

// pageTexts reads the text of each page back with poppler.
func pageTexts(t *testing.T, pdf string) []string {
	t.Helper()
	pages := strings.Split(output(t, "pdftotext", "-layout", pdf, "-"), "\f")
	return pages[:len(pages)-1]
}

// flat is text with every run of white space as one space.
func flat(s string) string { return strings.Join(strings.Fields(s), " ") }

var documents = map[string]func(io.Writer) error{
	"traveller":     func(w io.Writer) error { return WriteTravellers(w, A4, exampleTraveller()) },
	"travellers":    func(w io.Writer) error { return WriteTravellers(w, A4, exampleTraveller(), longTraveller()) },
	"A5":            func(w io.Writer) error { return WriteTravellers(w, A5, exampleTraveller()) },
	"A5, long":      func(w io.Writer) error { return WriteTravellers(w, A5, longTraveller()) },
	"label":         func(w io.Writer) error { return WriteTravellers(w, Label, exampleTraveller()) },
	"label, long":   func(w io.Writer) error { return WriteTravellers(w, Label, longTraveller(), exampleTraveller()) },
	"containers":    func(w io.Writer) error { return WriteContainerLabels(w, exampleContainers(), at(25, 14, 0)) },
	"places":        func(w io.Writer) error { return WritePlaceSigns(w, examplePlaces(), at(25, 14, 0)) },
	"badges":        func(w io.Writer) error { return WriteBadges(w, exampleBadges(), at(25, 14, 0)) },
	"station signs": func(w io.Writer) error { return WriteStationSigns(w, exampleSigns(), at(25, 14, 0)) },
	"packing list":  func(w io.Writer) error { return WritePackingList(w, examplePackingList()) },
}

// sizes are the checks of what isn't on A4.
var sizes = map[string]string{"A5": "paper-A5", "A5, long": "paper-A5", "label": "label-100x150", "label, long": "label-100x150", "containers": "label-100x150"}

// Every page of every document has its size as ISO 216 has it, or the label's
// millimetres, measured by poppler.
func TestEveryPageHasItsSize(t *testing.T) {
	size := regexp.MustCompile(`Page +\d+ size: +([0-9.]+) x ([0-9.]+) pts`)
	for name, write := range documents {
		t.Run(name, func(t *testing.T) {
			want := checkMM(t, cmp.Or(sizes[name], "paper-A4"))
			pages := size.FindAllStringSubmatch(output(t, "pdfinfo", "-l", "-1", draw(t, write)), -1)
			if len(pages) == 0 {
				t.Fatal("no page")
			}
			for _, p := range pages {
				for i, mm := range want {
					pts, _ := strconv.ParseFloat(p[i+1], 64)
					if math.Abs(pts*mmPerPoint-mm) > 0.1 {
						t.Errorf("side %d is %.2f mm, want %g", i, pts*mmPerPoint, mm)
					}
				}
			}
		})
	}
}

func TestTravellerSaysAllOfIt(t *testing.T) {
	for _, document := range []string{"traveller", "A5"} {
		t.Run(document, func(t *testing.T) { saysAllOfIt(t, draw(t, documents[document])) })
	}
}

func saysAllOfIt(t *testing.T, pdf string) {
	t.Helper()
	pages := pageTexts(t, pdf)
	// Text that wraps beside other columns is read in the order it was written.
	all := flat(strings.Join(pages, " ") + output(t, "pdftotext", pdf, "-"))
	for _, want := range []string{
		"P4K7 M2QX", "2, replaces 1", "Wed 25 Nov 2026 14:06, Separation bench 1, M. Okafor",
		"4117", "4120", "Larkfield Hospital, north roof", "Oxbow School, plant deck", "Thu 3 Dec 2026", "Wed 9 Dec 2026",
		"ENC-2400-W2 rev C", "ENC-2400-D1 rev B", "ENC-1800-B7 rev A", "wall panel, louvre side", "door leaf, left hand", "hinge bracket",
		"24 parts in 3 lots", "53.0 kg", "5005-H32, 3 mm", "304, 2 mm", "5.12 kg each", "13.4 kg each", "0.316 kg each",
		"S-0931 heat 77K20", "S-0934 heat 77K21", "S-0940 heat 81M07",
		"out: basalt, textured; in: chalk, smooth", "no finish asked", "1180 × 620 mm",
		"HELD", "Scratches on the face side of 1 of 2", "P. Lindqvist", "CONCESSION", "hole 6.1 for 6.0", "Signed R. Tan", "and P. Lindqvist",
		"CUT HAZARD", "not the welder", "nobody passes until released", "weld-inspect", "edge-round", "next",
		"Aluminium abrasives only", "Stainless abrasives only", "keep them apart",
		"not a legal limit", "gloves and sleeves", "No power?", "Corrie Sheetworks", "Invented demo data", fmt.Sprintf("page 1 of %d", len(pages)), fmt.Sprintf("page %d of %d", len(pages), len(pages)),
	} {
		if !strings.Contains(all, want) {
			t.Errorf("the sheet doesn't say %q", want)
		}
	}
	for i, p := range pages {
		for _, want := range []string{"P4K7 M2QX", "replaces 1", "No power?", "Invented demo data", "24 parts in 3 lots"} {
			if !strings.Contains(flat(p), want) {
				t.Errorf("page %d doesn't say %q", i+1, want)
			}
		}
	}
	if !strings.Contains(flat(pages[0]), "lot B: why, and who can lift it") {
		t.Error("the first page doesn't warn of the lot held on the second")
	}
	// The big counts stand on lines of their own lots.
	for item, count := range map[string]string{"ENC-2400-W2": "4", "ENC-2400-D1": "2", "ENC-1800-B7": "18"} {
		re := regexp.MustCompile(regexp.QuoteMeta(item) + `(?s:.{0,400}?)\s` + count + `\n`)
		if !re.MatchString(strings.Join(pages, "\n")) {
			t.Errorf("no count %s beside %s", count, item)
		}
	}
}

func TestEmptyPallet(t *testing.T) {
	tr := exampleTraveller()
	tr.Lots = nil
	all := flat(pageTexts(t, draw(t, func(w io.Writer) error { return WriteTravellers(w, A4, tr) }))[0])
	for _, want := range []string{tr.Code, "nothing", "none", "page 1 of 1"} {
		if !strings.Contains(all, want) {
			t.Errorf("an empty pallet's sheet doesn't say %q", want)
		}
	}
}

// Words that must be right to the letter: counts, masses, dates, notes.
func TestWords(t *testing.T) {
	tr := exampleTraveller()
	for _, c := range []struct{ got, want string }{
		{tr.LoadText(), "24 parts in 3 lots"},
		{tr.MassText(), "53.0 kg"}, // 4 × 5.12 + 2 × 13.4 + 18 × 0.316 = 52.968
		{tr.PrintText(), "2, replaces 1"},
		{Traveller{Print: 1}.PrintText(), "1, the first"},
		{Traveller{Lots: []Lot{{Count: 1}}}.LoadText(), "1 part in 1 lot"},
		{Traveller{Lots: []Lot{{Count: 1}}}.MassText(), "not known"},
		{Kg(0.316), "0.316 kg"}, {Kg(9.5), "9.50 kg"}, {Kg(9.996), "10.0 kg"}, {Kg(99.97), "100 kg"}, {Kg(214), "214 kg"},
		{Date(day(2026, 12, 3)), "Thu 3 Dec 2026"}, {PromisedText(time.Time{}), "no date promised"},
		{DateTime(at(25, 14, 6)), "Wed 25 Nov 2026 14:06"}, {SignedAt(at(25, 13, 58)), "Wed 25 Nov 13:58"},
		{Metal{Grade: "6063"}.Text(), "6063"}, {Metal{ThicknessMM: 1.5}.Text(), "1.5 mm"},
		{tr.Lots[0].OrderText(), "order 4117 line 2, Larkfield Hospital, north roof"},
		{Lot{}.FinishText(), "no finish asked"},
		{tr.Lots[0].NextText(), "edge-round"},
		{Traveller{Lots: tr.Lots[1:2]}.HeldLots(), ""},
		{Traveller{Lots: tr.Lots[:1]}.AbrasiveNote(), Aluminium.abrasive()},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
	orders := tr.Orders()
	if len(orders) != 2 || orders[0].Order != "4117" || strings.Join(orders[0].Lots, "") != "AB" || orders[1].Order != "4120" {
		t.Errorf("orders %+v", orders)
	}
}

// longTraveller has six lots of forty steps.
func longTraveller() Traveller {
	t := exampleTraveller()
	t.Code, t.Address, t.Print, t.Replaces = "P9CD 2FHT", "HTTPS://TAGALONG.EXAMPLE/P/P9CD2FHT/1", 1, 0
	var lots []Lot
	for i := range 6 {
		l := t.Lots[i%3]
		l.Letter = string(rune('A' + i))
		l.Item = fmt.Sprintf("LONG-%d", i)
		l.Order = fmt.Sprintf("42%02d", i)
		for j := range 40 {
			l.Steps = append(l.Steps, Step{Kind: StepKind(j % 5), Stage: fmt.Sprintf("step-%d-%d", i, j), LookAt: "as the drawing says"})
		}
		lots = append(lots, l)
	}
	t.Lots = lots
	return t
}

func TestLongRoutesFlowOn(t *testing.T) {
	long := longTraveller()
	pages := pageTexts(t, draw(t, func(w io.Writer) error { return WriteTravellers(w, A4, long) }))
	if len(pages) < 8 {
		t.Fatalf("%d pages for 6 lots of some 50 steps", len(pages))
	}
	for i, p := range pages {
		for _, want := range []string{long.Code, fmt.Sprintf("page %d of %d", i+1, len(pages)), "look at"} {
			if !strings.Contains(flat(p), want) {
				t.Errorf("page %d doesn't say %q", i+1, want)
			}
		}
		if i > 0 && !strings.Contains(p, "continued") && !strings.Contains(p, "finish") {
			t.Errorf("page %d begins without saying whose steps these are", i+1)
		}
	}
	all := strings.Join(pages, "")
	for i := range 6 {
		for j := range 40 {
			if n := len(regexp.MustCompile(fmt.Sprintf(`step-%d-%d\b`, i, j)).FindAllString(all, -1)); n != 1 {
				t.Errorf("step-%d-%d is printed %d times", i, j, n)
			}
		}
	}
}

// Each traveller of a file counts its own pages.
func TestWriteTravellersCountsEachAlone(t *testing.T) {
	a, b := exampleTraveller(), exampleTraveller()
	b.Code, b.Lots = "P9CD 2FHT", b.Lots[:1]
	pages := pageTexts(t, draw(t, func(w io.Writer) error { return WriteTravellers(w, A4, a, b) }))
	want := [][2]string{{a.Code, "page 1 of 2"}, {a.Code, "page 2 of 2"}, {b.Code, "page 1 of 1"}}
	if len(pages) != len(want) {
		t.Fatalf("%d pages, want %d", len(pages), len(want))
	}
	for i, w := range want {
		if p := flat(pages[i]); !strings.Contains(p, w[0]) || !strings.Contains(p, w[1]) {
			t.Errorf("page %d isn't %s of %s", i+1, w[1], w[0])
		}
	}
}

func TestOtherSheetsSayAllOfIt(t *testing.T) {
	for name, want := range map[string][]string{
		"badges":        {"Mina Okafor", "part separation", "badge 001", "Ivo Leclerc", "Corrie Sheetworks", "Invented demo data"},
		"station signs": {"S3RQ 8TXA", "edge-round", "Aluminium belts only", "Site rules, local codes", "weld-inspect, final-check"},
		"packing list": {"C7TW 5HGE", "Larkfield Hospital, north roof", "Wed 2 Dec 2026", "Thu 3 Dec 2026", "ENC-2400-X3", "K2MM 71QA",
			"312 kg", "214 kg", "NOT ON THIS LOAD", "PT6V 4EJK", "ISPM 15", "page 1 of 1", "Received at site"},
	} {
		all := flat(strings.Join(pageTexts(t, draw(t, documents[name])), " "))
		for _, w := range want {
			if !strings.Contains(all, w) {
				t.Errorf("%s: no %q", name, w)
			}
		}
	}
	p := examplePackingList()
	p.Missing = nil
	if all := pageTexts(t, draw(t, func(w io.Writer) error { return WritePackingList(w, p) })); !strings.Contains(all[0], "Nothing is missing.") {
		t.Error("a complete load doesn't say so")
	}
	for range 80 {
		p.Lines = append(p.Lines, p.Lines[0])
	}
	pages := pageTexts(t, draw(t, func(w io.Writer) error { return WritePackingList(w, p) }))
	for i, page := range pages {
		if !strings.Contains(page, p.Code) || !strings.Contains(page, fmt.Sprintf("page %d of %d", i+1, len(pages))) {
			t.Errorf("page %d of the long list lacks code or page number", i+1)
		}
	}
	if len(pages) < 4 {
		t.Errorf("91 lines on %d pages", len(pages))
	}
}

func TestSameInputSameBytes(t *testing.T) {
	for name, write := range documents {
		var a, b bytes.Buffer
		if err := write(&a); err != nil {
			t.Fatal(err)
		}
		if err := write(&b); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(a.Bytes(), b.Bytes()) {
			t.Errorf("%s: two drawings differ", name)
		}
	}
}

func TestDocumentSaysWhatItIs(t *testing.T) {
	info := output(t, "pdfinfo", draw(t, documents["traveller"]))
	for _, want := range []string{"Traveller P4K7 M2QX, print 2", "Corrie Sheetworks", "2026"} {
		if !strings.Contains(info, want) {
			t.Errorf("metadata lack %q:\n%s", want, info)
		}
	}
}

func TestNothingToPrint(t *testing.T) {
	for name, err := range map[string]error{
		"travellers": WriteTravellers(io.Discard, A4),
		"badges":     WriteBadges(io.Discard, nil, time.Time{}),
		"signs":      WriteStationSigns(io.Discard, nil, time.Time{}),
	} {
		if err != ErrNothing {
			t.Errorf("%s: %v", name, err)
		}
	}
	bad := exampleTraveller()
	bad.Address = ""
	if err := WriteTravellers(io.Discard, A4, bad); err == nil || !strings.Contains(err.Error(), bad.Code) {
		t.Errorf("an empty address: %v", err)
	}
}
