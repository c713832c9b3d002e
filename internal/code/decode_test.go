package code

import (
	"encoding/xml"
	"errors"
	"flag"
	"fmt"
	"image"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
)

// frames is how often a scan may look: a camera or hand scanner takes this many
// pictures in a second, while the hand moves.
const frames = 30

// addresses is how many tickets are scanned; more of them by hand:
//
//	go test ./internal/code -run TwoDecoders -v -addresses 20
var addresses = flag.Int("addresses", 2, "tickets of TestTwoDecodersReadTurnedAndDirtySymbols, each scanned 60 times")

// A decoder reads one picture after another; a picture it can't read is "".
type decoder struct {
	name string
	read func(t *testing.T, pictures []*image.Gray) []string
}

var decoders = []decoder{{"zbarimg", zbar}, {"gozxing", zxing}}

// zbar reads all pictures in one run of zbarimg, which names the file of each
// symbol it finds.
func zbar(t *testing.T, pictures []*image.Gray) []string {
	t.Helper()
	dir := t.TempDir()
	args := []string{"--quiet", "--xml", "-Sdisable", "-Sqrcode.enable"}
	for i, img := range pictures {
		name := filepath.Join(dir, fmt.Sprintf("%04d.pgm", i))
		head := fmt.Sprintf("P5\n%d %d\n255\n", img.Rect.Dx(), img.Rect.Dy())
		if err := os.WriteFile(name, append([]byte(head), img.Pix...), 0o600); err != nil {
			t.Fatal(err)
		}
		args = append(args, name)
	}
	out, err := exec.Command("zbarimg", args...).Output()
	if exit, ok := errors.AsType[*exec.ExitError](err); err != nil && (!ok || exit.ExitCode() != 4) { // 4: some picture held no symbol
		t.Fatalf("zbarimg: %v", err)
	}
	var found struct {
		Sources []struct {
			Href string   `xml:"href,attr"`
			Data []string `xml:"index>symbol>data"`
		} `xml:"source"`
	}
	if err := xml.Unmarshal(out, &found); err != nil {
		t.Fatalf("zbarimg's answer: %v", err)
	}
	if len(found.Sources) != len(pictures) {
		t.Fatalf("zbarimg looked at %d of %d pictures", len(found.Sources), len(pictures))
	}
	texts := make([]string, len(pictures))
	for i, s := range found.Sources {
		if s.Href != filepath.Join(dir, fmt.Sprintf("%04d.pgm", i)) {
			t.Fatalf("zbarimg answered about %s", s.Href)
		}
		if len(s.Data) > 0 {
			texts[i] = s.Data[0]
		}
	}
	return texts
}

// zxing tries both of the library's ways to tell dark from light: the local one
// alone misses some clean upright symbols.
func zxing(t *testing.T, pictures []*image.Gray) []string {
	t.Helper()
	texts := make([]string, len(pictures))
	for i, img := range pictures {
		source := gozxing.NewLuminanceSourceFromImage(img)
		for _, binarizer := range []gozxing.Binarizer{gozxing.NewHybridBinarizer(source), gozxing.NewGlobalHistgramBinarizer(source)} {
			bitmap, err := gozxing.NewBinaryBitmap(binarizer)
			if err != nil {
				t.Fatal(err)
			}
			hints := map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true}
			if result, err := qrcode.NewQRCodeReader().Decode(bitmap, hints); err == nil {
				texts[i] = result.GetText()
				break
			}
		}
	}
	return texts
}

// A scan is one ticket held before a decoder.
type scan struct {
	what    string
	address string
	symbol  *Symbol
	page    page
	most    int // frames it may take
	took    int // frames it took; 0: not read
	again   int // draws of specks no decoder could have corrected
}

// run shows every scan frame after frame until it is read, most of them at
// once: the frames of all that aren't read yet go to the decoder together.
func (d decoder) run(t *testing.T, scans []*scan, rng *rand.Rand) {
	t.Helper()
	for no := 1; no <= frames; no++ {
		var open []*scan
		var pictures []*image.Gray
		for _, s := range scans {
			if s.took > 0 || no > s.most {
				continue
			}
			p := s.page
			if no > 1 {
				p = p.frame(rng)
			}
			open, pictures = append(open, s), append(pictures, p.render(s.symbol))
		}
		if len(open) == 0 {
			return
		}
		for i, text := range d.read(t, pictures) {
			switch text {
			case open[i].address:
				open[i].took = no
			case "":
			default: // never another code, however dirty
				t.Errorf("%s, %s: read %q as %q", d.name, open[i].what, open[i].address, text)
			}
		}
	}
}

// tickets are the scans of one address: clean and with 7 % hidden, in two
// resolutions, turned.
func tickets(t *testing.T, address string, turns []float64, rng *rand.Rand) []*scan {
	t.Helper()
	symbol, err := QR(address)
	if err != nil {
		t.Fatal(err)
	}
	var out []*scan
	for _, dpi := range []float64{200, 300} { // of a label and an office printer
		for _, turn := range turns {
			for _, state := range []string{"clean", "patch stained", "patch worn", "specks stained", "specks worn"} {
				s := &scan{address: address, symbol: symbol, most: frames, page: page{dpi: dpi, module: 0.6, turn: turn}}
				s.what = fmt.Sprintf("version %d level %c, %g dpi, turned %g°, %s", symbol.Version, symbol.Level, dpi, turn, state)
				switch state {
				case "clean":
					s.most = 1
				case "patch stained", "patch worn":
					s.page.hidden, s.page.worn = patch(symbol, rng), state == "patch worn"
				default:
					s.page.worn = state == "specks worn"
					s.page.hidden, s.again = specks(t, symbol, rng, s.page.worn)
				}
				out = append(out, s)
			}
		}
	}
	return out
}

// Two decoders that aren't ours read symbols as printed, turned, at the
// resolution of a label and an office printer: clean ones at the first look,
// and with 7 % hidden outside finders, timing and format areas within one scan.
// A single look isn't enough where the alignment pattern is hidden: each
// decoder then takes other modules for it now and then, and reads at an angle
// or sharpness where it doesn't.
func TestTwoDecodersReadTurnedAndDirtySymbols(t *testing.T) {
	bases := []string{"https://tagalong.example:8443", "https://larkfield-works.sheet-metal-shop.example:8443"}
	for _, d := range decoders {
		t.Run(d.name, func(t *testing.T) {
			t.Parallel()
			random, rng := seeded(11), rand.New(rand.NewPCG(4, 4))
			var scans []*scan
			for i := range *addresses {
				address := Address(bases[i%len(bases)], mustNew(t, Pallet, random), 1+rng.IntN(40))
				scans = append(scans, tickets(t, address, []float64{0, 90, 180, 270, 7, -11}, rng)...)
			}
			d.run(t, scans, rng)
			report(t, d.name, scans)
		})
	}
}

// report fails for every scan that was not read, and says how many frames the
// others took.
func report(t *testing.T, name string, scans []*scan) {
	t.Helper()
	clean, dirty, sum, most, first, dozen, again := 0, 0, 0, 0, 0, 0, 0
	for _, s := range scans {
		again += s.again
		switch {
		case s.took == 0:
			t.Errorf("%s, %s: not read in %d frames", name, s.what, s.most)
		case s.most == 1:
			clean++
		default:
			dirty++
			sum += s.took
			most = max(most, s.took)
			if s.took == 1 {
				first++
			}
			if s.took <= 12 {
				dozen++
			}
		}
	}
	t.Logf("%s: %d clean symbols read at the first frame; %d with 7 %% hidden: %d at the first, %d within 12, %.2f frames on average, %d at most; specks drawn again %d times",
		name, clean, dirty, first, dozen, float64(sum)/float64(max(dirty, 1)), most, again)
}
