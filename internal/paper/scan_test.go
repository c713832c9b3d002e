package paper

import (
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"

	"tagalong/internal/code"
)

// render draws the pages of a PDF as grey pictures with poppler.
func render(t *testing.T, pdf string, dpi int) []string {
	t.Helper()
	root := filepath.Join(t.TempDir(), "page")
	output(t, "pdftoppm", "-r", fmt.Sprint(dpi), "-gray", "-png", pdf, root)
	pages, err := filepath.Glob(root + "*.png")
	if err != nil || len(pages) == 0 {
		t.Fatalf("no page rendered: %v", err)
	}
	slices.Sort(pages)
	return pages
}

func load(t *testing.T, name string) image.Image {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	img, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// zbar reads every code of a page with zbarimg.
func zbar(t *testing.T, page string) []string {
	t.Helper()
	return strings.Fields(output(t, "zbarimg", "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", page))
}

func zxing(t *testing.T, img image.Image) string {
	t.Helper()
	bitmap, err := gozxing.NewBinaryBitmapFromImage(img)
	if err != nil {
		t.Fatal(err)
	}
	res, err := qrcode.NewQRCodeReader().Decode(bitmap, map[gozxing.DecodeHintType]interface{}{gozxing.DecodeHintType_TRY_HARDER: true})
	if err != nil {
		t.Fatalf("gozxing: %v", err)
	}
	return res.GetText()
}

// Two decoders not ours read the code of every page as an office printer and as
// a plain one would draw it. The second address is the longest a shop may have.
func TestEveryPageIsRead(t *testing.T) {
	longest := longTraveller()
	longest.Lots = longest.Lots[:1]
	longest.Address = "HTTPS://" + strings.Repeat("A", 58) + "/P/P4K7M2QX/999999"
	sign := exampleSigns()[:1]
	box := exampleContainers()[1:2]
	cases := map[string]struct {
		pdf  string
		want string
	}{
		"A5":              {draw(t, documents["A5"]), exampleTraveller().Address},
		"longest on A5":   {draw(t, func(w io.Writer) error { return WriteTravellers(w, A5, longest) }), longest.Address},
		"label":           {draw(t, documents["label"]), exampleTraveller().Address},
		"longest, label":  {draw(t, func(w io.Writer) error { return WriteTravellers(w, Label, longest) }), longest.Address},
		"container":       {draw(t, func(w io.Writer) error { return WriteContainerLabels(w, box, at(25, 14, 0)) }), box[0].Address},
		"traveller":       {draw(t, documents["traveller"]), exampleTraveller().Address},
		"longest address": {draw(t, func(w io.Writer) error { return WriteTravellers(w, A4, longest) }), longest.Address},
		"station sign":    {draw(t, func(w io.Writer) error { return WriteStationSigns(w, sign, at(25, 14, 0)) }), sign[0].Address},
		"packing list":    {draw(t, documents["packing list"]), examplePackingList().Address},
	}
	for name, c := range cases {
		for _, dpi := range []int{200, 300} {
			t.Run(fmt.Sprintf("%s at %d dpi", name, dpi), func(t *testing.T) {
				for i, page := range render(t, c.pdf, dpi) {
					if got := zbar(t, page); !slices.Equal(got, []string{c.want}) {
						t.Errorf("page %d: zbarimg read %q", i+1, got)
					}
					if got := zxing(t, load(t, page)); got != c.want {
						t.Errorf("page %d: gozxing read %q", i+1, got)
					}
				}
			})
		}
	}
}

// A list with a link has two symbols: the consignment's on every page, and the
// link's, once.
func TestThePackingListsLinkIsRead(t *testing.T) {
	p := linkedPackingList()
	want := []string{p.Address, p.Link.Address}
	for _, dpi := range []int{200, 300} {
		var got []string
		for _, page := range render(t, draw(t, func(w io.Writer) error { return WritePackingList(w, p) }), dpi) {
			got = append(got, zbar(t, page)...)
		}
		slices.Sort(got)
		if got = slices.Compact(got); !slices.Equal(got, want) {
			t.Errorf("at %d dpi, zbarimg read %q", dpi, got)
		}
	}
}

func TestEveryBadgeIsRead(t *testing.T) {
	badges := exampleBadges()
	pages := render(t, draw(t, documents["badges"]), 300)
	if len(pages) != 2 {
		t.Fatalf("%d badges on %d pages, want ten to a page", len(badges), len(pages))
	}
	var got, want []string
	for _, p := range pages {
		got = append(got, zbar(t, p)...)
	}
	for i, b := range badges {
		want = append(want, b.Token)
		k := i % 10
		const dpi = 300
		px := func(mm float64) int { return int(mm / 25.4 * dpi) }
		x, y := (formA4.pageW-2*CardW)/2+float64(k%2)*CardW, (formA4.pageH-5*CardH)/2+float64(k/2)*CardH
		card := load(t, pages[i/10]).(interface {
			SubImage(image.Rectangle) image.Image
		}).SubImage(image.Rect(px(x), px(y), px(x+CardW), px(y+CardH)))
		if read := zxing(t, card); read != b.Token {
			t.Errorf("badge of %s: gozxing read %q", b.Name, read)
		}
	}
	slices.Sort(got)
	slices.Sort(want)
	if !slices.Equal(got, want) {
		t.Errorf("zbarimg read %q, want %q", got, want)
	}
}

func dark(img image.Image, x, y int) bool {
	r, _, _, _ := img.At(x, y).RGBA()
	return r < 0x8000
}

// Measured on the page as drawn: the code is 30 mm or more with its quiet zone,
// and the quiet zone of four modules (ISO/IEC 18004) is blank.
func TestCodeSizeAndQuietZone(t *testing.T) {
	var zone struct {
		Modules int `json:"quiet_zone_modules_each_side"`
	}
	findCheck(t, "qr-quiet-zone", &zone)
	symbol, err := code.QR(exampleTraveller().Address)
	if err != nil {
		t.Fatal(err)
	}
	modules := symbol.Size() - 2*code.QuietZone
	const dpi = 300
	for i, page := range render(t, draw(t, documents["traveller"]), dpi) {
		img := load(t, page)
		px := func(mm float64) int { return int(math.Round(mm / 25.4 * dpi)) }
		cell, cellH := formA4.codeW, 47.0 // the code's cell without its frame's lines
		if i > 0 {
			cell, cellH = formA4.qrRest+2, formA4.qrRest+1.5
		}
		found := image.Rectangle{Min: image.Pt(1<<30, 1<<30)}
		for y := px(formA4.frameY + 0.5); y < px(formA4.frameY+cellH); y++ {
			for x := px(formA4.frameX + 0.5); x < px(formA4.frameX+cell-0.5); x++ {
				if dark(img, x, y) {
					found.Min = image.Pt(min(found.Min.X, x), min(found.Min.Y, y))
					found.Max = image.Pt(max(found.Max.X, x+1), max(found.Max.Y, y+1))
				}
			}
		}
		module := float64(found.Dx()) / float64(modules)
		if mm := module * float64(modules+2*zone.Modules) / dpi * 25.4; mm < 29.9 {
			t.Errorf("page %d: the code is %.1f mm with its quiet zone", i+1, mm)
		}
		if d := found.Dx() - found.Dy(); d < -2 || d > 2 {
			t.Errorf("page %d: the code is %v, not square", i+1, found.Size())
		}
		quiet := found.Inset(-int(math.Floor(float64(zone.Modules)*module)) + 1)
		for y := quiet.Min.Y; y < quiet.Max.Y; y++ {
			for x := quiet.Min.X; x < quiet.Max.X; x++ {
				if !image.Pt(x, y).In(found) && dark(img, x, y) {
					t.Fatalf("page %d: ink in the quiet zone at %d, %d of %v", i+1, x, y, quiet)
				}
			}
		}
	}
}

// The cut marks are a card of size ID-1 (ISO/IEC 7810) apart, measured on the
// page as drawn.
func TestCutMarksMeasureACard(t *testing.T) {
	want := checkMM(t, "card-ID-1")
	const dpi = 300
	img := load(t, render(t, draw(t, documents["badges"]), dpi)[0])
	mm := func(px float64) float64 { return px / dpi * 25.4 }
	marks := func(n int, ink func(int) bool) []float64 {
		var out []float64
		for i := 0; i < n; i++ {
			from := i
			for i < n && ink(i) {
				i++
			}
			if i > from {
				out = append(out, mm(float64(from+i)/2))
			}
		}
		return out
	}
	px := func(mm float64) int { return int(mm / 25.4 * dpi) }
	across := marks(img.Bounds().Dx(), func(x int) bool { return dark(img, x, px((formA4.pageH-5*CardH)/2-3)) })
	down := marks(img.Bounds().Dy(), func(y int) bool { return dark(img, px((formA4.pageW-2*CardW)/2-3), y) })
	if len(across) != 3 || len(down) != 6 {
		t.Fatalf("%d marks across and %d down, want 3 and 6", len(across), len(down))
	}
	for i, m := range [][]float64{across, down} {
		for j := 1; j < len(m); j++ {
			if d := m[j] - m[j-1]; math.Abs(d-want[i]) > 0.15 {
				t.Errorf("cards are %.2f mm apart, want %g", d, want[i])
			}
		}
	}
}
