package code

import (
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
)

// page is a symbol printed on paper: how large, how turned, how dirty.
type page struct {
	dpi    float64
	module float64 // mm
	turn   float64 // degrees
	hidden map[[2]int]bool
	worn   bool // hidden modules are rubbed off, not stained
}

// render draws the page as a scanner would see it, with nine samples a pixel.
func (p page) render(symbol *Symbol) *image.Gray {
	perModule := p.module / 25.4 * p.dpi
	side := int(float64(symbol.Size())*perModule*1.5) + 1
	img := image.NewGray(image.Rect(0, 0, side, side))
	sin, cos := math.Sincos(-p.turn * math.Pi / 180)
	half := float64(symbol.Size()) / 2
	for py := range side {
		for px := range side {
			light := 0
			for s := range 9 {
				dx := (float64(px) + (float64(s%3)+0.5)/3 - float64(side)/2) / perModule
				dy := (float64(py) + (float64(s/3)+0.5)/3 - float64(side)/2) / perModule
				x, y := int(math.Floor(dx*cos-dy*sin+half)), int(math.Floor(dx*sin+dy*cos+half))
				if !p.dark(symbol, x, y) {
					light++
				}
			}
			img.SetGray(px, py, color.Gray{Y: uint8(light * 255 / 9)})
		}
	}
	return img
}

func (p page) dark(symbol *Symbol, x, y int) bool {
	if x < 0 || y < 0 || x >= symbol.Size() || y >= symbol.Size() {
		return false
	}
	if p.hidden[[2]int{x, y}] {
		return !p.worn
	}
	return symbol.Dark(x, y)
}

// damage hides 7 % of the symbol's modules, rounded up to a whole rectangle no
// more than twice as long as wide, clear of the function patterns of ISO/IEC
// 18004: finders with their format modules, timing, alignment. Those have no
// error correction; with the alignment pattern hidden either decoder fails
// about one time in three.
func damage(symbol *Symbol, rng *rand.Rand) map[[2]int]bool {
	n := symbol.Size() - 2*QuietZone
	least := int(math.Ceil(0.07 * float64(n*n)))
	for {
		w, h := 4+rng.IntN(12), 4+rng.IntN(12)
		if w*h < least || w*h > least+3 || w > 2*h || h > 2*w {
			continue
		}
		x0, y0 := rng.IntN(n-w+1), rng.IntN(n-h+1)
		hidden := map[[2]int]bool{}
		clear := true
		for y := y0; y < y0+h; y++ {
			for x := x0; x < x0+w; x++ {
				clear = clear && !functional(x, y, n)
				hidden[[2]int{x + QuietZone, y + QuietZone}] = true
			}
		}
		if clear {
			return hidden
		}
	}
}

// functional is for versions 2 to 6, which have one alignment pattern.
func functional(x, y, n int) bool {
	finder := x < 9 && y < 9 || x >= n-8 && y < 9 || x < 9 && y >= n-8
	alignment := x >= n-9 && x < n-4 && y >= n-9 && y < n-4
	return finder || alignment || x == 6 || y == 6
}

func zbar(t *testing.T, img image.Image) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "scan.png")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := png.Encode(f, img); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("zbarimg", "--quiet", "--raw", path).Output()
	if err != nil {
		return fmt.Sprintf("zbarimg: %v", err)
	}
	return strings.TrimSpace(string(out))
}

// zxing tries both of the library's binarizers, as a camera gets more than one
// frame: the local one alone misses some clean upright symbols.
func zxing(t *testing.T, img image.Image) string {
	t.Helper()
	source := gozxing.NewLuminanceSourceFromImage(img)
	var last error
	for _, binarizer := range []gozxing.Binarizer{gozxing.NewHybridBinarizer(source), gozxing.NewGlobalHistgramBinarizer(source)} {
		bitmap, err := gozxing.NewBinaryBitmap(binarizer)
		if err != nil {
			t.Fatal(err)
		}
		hints := map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true}
		result, err := qrcode.NewQRCodeReader().Decode(bitmap, hints)
		if err == nil {
			return result.GetText()
		}
		last = err
	}
	return fmt.Sprintf("gozxing: %v", last)
}

// Two decoders that aren't ours read symbols as printed, clean and with 7 % of
// the area hidden, turned, at the resolution of a label and an office printer.
func TestTwoDecodersReadTurnedAndDirtySymbols(t *testing.T) {
	random, rng := seeded(11), rand.New(rand.NewPCG(4, 4))
	for _, base := range []string{"https://tagalong.example:8443", "http://192.168.7.40:8080"} {
		address := Address(base, mustNew(t, Pallet, random), 1+rng.IntN(40))
		symbol, err := QR(address)
		if err != nil {
			t.Fatal(err)
		}
		for _, dpi := range []float64{200, 300} {
			for _, turn := range []float64{0, 90, 180, 270, 7, -11} {
				for _, state := range []string{"clean", "stained", "worn"} {
					p := page{dpi: dpi, module: 0.6, turn: turn, worn: state == "worn"}
					if state != "clean" {
						p.hidden = damage(symbol, rng)
					}
					img := p.render(symbol)
					for name, got := range map[string]string{"zbar": zbar(t, img), "gozxing": zxing(t, img)} {
						if got != address {
							t.Errorf("%s, version %d level %c, %g dpi, turned %g°, %s: %q, want %q", name, symbol.Version, symbol.Level, dpi, turn, state, got, address)
						}
					}
				}
			}
		}
	}
}
