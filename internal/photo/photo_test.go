package photo_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tagalong/internal/photo"
)

func file(t testing.TB, name string) []byte {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

func read(raw []byte) (photo.Kept, error) {
	return photo.Read(context.Background(), bytes.NewReader(raw), int64(len(raw)))
}

func kept(t testing.TB, raw []byte) photo.Kept {
	t.Helper()
	k, err := read(raw)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

func decoded(t testing.TB, raw []byte) image.Image {
	t.Helper()
	img, _, err := image.Decode(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// alike is the peak signal-to-noise ratio of two pictures in dB; of other sizes
// they are not alike at all. Seen is what a pixel of the first should look like.
func alike(got, want image.Image, seen func(x, y int, c color.Color) color.Color) float64 {
	if got.Bounds().Size() != want.Bounds().Size() {
		return math.Inf(-1)
	}
	var sum float64
	b := want.Bounds()
	for y := range b.Dy() {
		for x := range b.Dx() {
			r, g, bl, _ := got.At(x, y).RGBA()
			wr, wg, wb, _ := seen(x, y, want.At(b.Min.X+x, b.Min.Y+y)).RGBA()
			for _, d := range []float64{float64(r) - float64(wr), float64(g) - float64(wg), float64(bl) - float64(wb)} {
				sum += d / 257 * d / 257
			}
		}
	}
	return 10 * math.Log10(255*255*3*float64(b.Dx()*b.Dy())/sum)
}

func same(_, _ int, c color.Color) color.Color { return c }

// The eight orientations of CIPA DC-008, 4.6.4 A, as another program wrote them
// (testdata/README.md), come out as the drawing they were made from.
func TestOrientations(t *testing.T) {
	want := decoded(t, file(t, "upright.png"))
	for _, name := range []string{"orientation-1.jpg", "orientation-2.jpg", "orientation-3.jpg", "orientation-4.jpg",
		"orientation-5.jpg", "orientation-6.jpg", "orientation-7.jpg", "orientation-8.jpg", "orientation-6.webp"} {
		k := kept(t, file(t, name))
		if k.Width != 96 || k.Height != 64 {
			t.Errorf("%s is kept as %d × %d", name, k.Width, k.Height)
		}
		for what, raw := range map[string][]byte{"picture": k.JPEG, "thumbnail": k.Thumb} {
			if db := alike(decoded(t, raw), want, same); db < 24 { // another orientation is 10 dB or so
				t.Errorf("%s: its %s is %.1f dB from the drawing", name, what, db)
			}
		}
	}
}

// What cameras, phones and programs write is read, whatever its inside.
func TestKindsThatAreRead(t *testing.T) {
	want := decoded(t, file(t, "upright.png"))
	grey := func(_, _ int, c color.Color) color.Color { return color.GrayModel.Convert(c) }
	half := func(x, _ int, c color.Color) color.Color {
		if x >= 48 {
			return color.White // there was nothing
		}
		return c
	}
	for name, seen := range map[string]func(x, y int, c color.Color) color.Color{
		"upright.png": same, "palette-interlaced.png": same, "sixteen-bit.png": same, "alpha.png": half,
		"progressive.jpg": same, "422.jpg": same, "grey.jpg": grey, "cmyk.jpg": same,
		"lossy.webp": same, "lossless.webp": same, "alpha.webp": half,
	} {
		if db := alike(decoded(t, kept(t, file(t, name)).JPEG), want, seen); db < 24 {
			t.Errorf("%s is kept %.1f dB from what it shows", name, db)
		}
	}
	if k := kept(t, file(t, "odd-420.jpg")); k.Width != 97 || k.Height != 65 {
		t.Errorf("a picture of 97 × 65 is kept as %d × %d", k.Width, k.Height)
	}
}

// What is kept holds the segments a picture needs (ITU-T T.81, B.2) and nothing
// of its source: no EXIF, no position, no owner, no colour profile, no comment.
func TestNothingOfTheSourceIsKept(t *testing.T) {
	for _, name := range []string{"orientation-6.jpg", "orientation-6.webp", "raw-profile.png"} {
		source := file(t, name)
		k := kept(t, source)
		for _, raw := range [][]byte{k.JPEG, k.Thumb} {
			if others := otherSegments(raw); len(others) > 0 {
				t.Errorf("%s: what is kept has the segments %x", name, others)
			}
			for _, word := range []string{"Exif", "Invented", "xpacket", "SN-11847", "ICC_PROFILE", "sRGB", "2026:11:25"} {
				if bytes.Contains(raw, []byte(word)) {
					t.Errorf("%s: %q is kept", name, word)
				}
			}
		}
	}
	if source := file(t, "orientation-6.jpg"); !bytes.Contains(source, []byte("Invented")) || len(otherSegments(source)) == 0 {
		t.Error("the source has nothing that must not be kept: this test tests nothing")
	}
}

// otherSegments are the markers of a JPEG before its scan that no decoder needs.
func otherSegments(raw []byte) []byte {
	var out []byte
	for at := 2; at+4 <= len(raw) && raw[at] == 0xff && raw[at+1] != 0xda; at += 2 + int(binary.BigEndian.Uint16(raw[at+2:])) {
		if !bytes.Contains([]byte{0xdb, 0xc0, 0xc4}, raw[at+1:at+2]) { // tables and the frame
			out = append(out, raw[at+1])
		}
	}
	return out
}

func TestWhatIsNoPictureIsRefused(t *testing.T) {
	jpg, png, webp := file(t, "orientation-6.jpg"), file(t, "upright.png"), file(t, "lossy.webp")
	spoilt := bytes.Clone(png)
	spoilt[bytes.Index(spoilt, []byte("IDAT"))+200]++
	large := bytes.Clone(jpg)
	at := bytes.Index(large, []byte("\xff\xc0"))
	binary.BigEndian.PutUint32(large[at+5:], 65000<<16|65000)
	for name, c := range map[string]struct {
		raw  []byte
		want error
	}{
		"nothing":                     {nil, photo.ErrEmpty},
		"one byte":                    {[]byte{0xff}, photo.ErrNotPicture},
		"words":                       {[]byte("not a picture at all"), photo.ErrNotPicture},
		"a page that says JPEG":       {[]byte("<html><img src=a.jpg>"), photo.ErrNotPicture},
		"a drawing with scripts":      {[]byte(`<svg xmlns="http://www.w3.org/2000/svg"><script/></svg>`), photo.ErrNotPicture},
		"a program":                   {append([]byte("\x7fELF\x02\x01\x01"), make([]byte, 4000)...), photo.ErrNotPicture},
		"GIF":                         {file(t, "animated.gif"), photo.ErrNotPicture},
		"HEIC":                        {file(t, "camera.heic"), photo.ErrHEIF},
		"AVIF":                        {file(t, "camera.avif"), photo.ErrHEIF},
		"moving WebP":                 {file(t, "animated.webp"), photo.ErrAnimated},
		"moving PNG":                  {withChunk(png, "acTL", []byte{0, 0, 0, 2, 0, 0, 0, 0}), photo.ErrAnimated},
		"the head of a JPEG":          {jpg[:3000], photo.ErrCutShort},
		"a JPEG without its end":      {jpg[:len(jpg)-2], photo.ErrCutShort},
		"half a PNG":                  {png[:len(png)/2], photo.ErrCutShort},
		"half a WebP":                 {webp[:len(webp)/2], photo.ErrCutShort},
		"a JPEG's head, then rubbish": {append(bytes.Clone(jpg[:20]), bytes.Repeat([]byte("rubbish "), 4000)...), photo.ErrCutShort},
		"a spoilt PNG":                {spoilt, photo.ErrDamaged},
		"JPEG of 65,000 × 65,000":     {large, photo.ErrTooManyPixels},
		"PNG of 60,000 × 60,000":      {withSize(png, 60_000, 60_000), photo.ErrTooManyPixels},
		"PNG of 4 thousand million":   {withSize(png, math.MaxUint32, math.MaxUint32), photo.ErrTooManyPixels},
		"PNG without width":           {withSize(png, 0, 64), photo.ErrDamaged},
		"26 MB":                       {append(bytes.Clone(jpg), make([]byte, photo.MaxBytes)...), photo.ErrTooLarge},
	} {
		if _, err := read(c.raw); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
}

// withChunk puts a chunk behind a PNG's header.
func withChunk(raw []byte, name string, data []byte) []byte {
	chunk := binary.BigEndian.AppendUint32(nil, uint32(len(data)))
	chunk = append(append(chunk, name...), data...)
	chunk = binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(chunk[4:]))
	const header = 8 + 25
	return slices.Concat(raw[:header], chunk, raw[header:])
}

// withSize changes what a PNG says of its size.
func withSize(raw []byte, width, height uint32) []byte {
	out := bytes.Clone(raw)
	binary.BigEndian.PutUint32(out[16:], width)
	binary.BigEndian.PutUint32(out[20:], height)
	binary.BigEndian.PutUint32(out[29:], crc32.ChecksumIEEE(out[12:29]))
	return out
}

// exif is the least EXIF that says an orientation.
func exif(n int) []byte {
	return slices.Concat([]byte("MM\x00*\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01\x00"), []byte{byte(n)}, make([]byte, 6))
}

// lay puts a picture as a camera of an orientation writes it: its 0th row and
// 0th column lie at the sides the standard names.
func lay(img *image.RGBA, n int) *image.RGBA {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	stored := func(x, y int) (int, int) {
		right, bottom := w-1-x, h-1-y
		at := [...][2]int{{x, y}, {right, y}, {right, bottom}, {x, bottom}, {y, x}, {y, right}, {bottom, right}, {bottom, x}}[n-1]
		return at[0], at[1]
	}
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	if n >= 5 {
		out = image.NewRGBA(image.Rect(0, 0, h, w))
	}
	for y := range h {
		for x := range w {
			u, v := stored(x, y)
			out.SetRGBA(u, v, img.RGBAAt(x, y))
		}
	}
	return out
}

// Eight copies of one picture, laid as the eight orientations, are kept as the
// same bytes: also where they are made smaller.
func TestTurnedCopiesAreKeptAlike(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(1, 60).Draw(t, "width"), rapid.IntRange(1, 60).Draw(t, "height")
		if long := rapid.SampledFrom([]int{0, 0, 0, 0, 0, 0, 0, 0, 0, 1921, 2500}).Draw(t, "long"); long > 0 {
			w, h = long, rapid.IntRange(1, 6).Draw(t, "narrow")
		}
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		img := image.NewRGBA(image.Rect(0, 0, w, h))
		for i := range img.Pix {
			img.Pix[i] = byte(random.Uint32())
			if i%4 == 3 {
				img.Pix[i] = 0xff
			}
		}
		var first photo.Kept
		for n := 1; n <= 8; n++ {
			var raw bytes.Buffer
			if err := png.Encode(&raw, lay(img, n)); err != nil {
				t.Fatal(err)
			}
			k, err := read(withChunk(raw.Bytes(), "eXIf", exif(n)))
			if err != nil {
				t.Fatalf("orientation %d: %v", n, err)
			}
			if n == 1 {
				first = k
			}
			if k.Hash != first.Hash || !bytes.Equal(k.Thumb, first.Thumb) || k.Width != first.Width || k.Height != first.Height {
				t.Fatalf("orientation %d of %d × %d is kept as %d × %d, %s", n, w, h, k.Width, k.Height, k.Hash)
			}
		}
	})
}

// However rich a picture is, what is kept of it is small.
func TestKeptIsSmall(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 7))
	img := image.NewNRGBA(image.Rect(0, 0, 1960, 800))
	for i := range img.Pix {
		img.Pix[i] = byte(random.Uint32())
	}
	var raw bytes.Buffer
	if err := jpeg.Encode(&raw, img, &jpeg.Options{Quality: 90}); err != nil {
		t.Fatal(err)
	}
	k := kept(t, raw.Bytes())
	if len(k.JPEG) > photo.MaxKept || len(k.Thumb) > photo.MaxThumb {
		t.Errorf("%d bytes are kept, and %d of the thumbnail", len(k.JPEG), len(k.Thumb))
	}
	if len(k.JPEG) < photo.MaxKept/3 {
		t.Errorf("of noise only %d bytes are kept", len(k.JPEG))
	}
	if k.Hash != photo.HashOf(k.JPEG) || decoded(t, k.JPEG).Bounds().Dx() != k.Width {
		t.Error("what is kept is not what it is said to be")
	}
}

// known are the errors people are told in words.
var known = []error{photo.ErrEmpty, photo.ErrTooLarge, photo.ErrNotPicture, photo.ErrHEIF, photo.ErrAnimated, photo.ErrTooManyPixels,
	photo.ErrCutShort, photo.ErrDamaged}

// sound expects a picture, small enough, or a reason people can be told.
func sound(t interface{ Fatalf(string, ...any) }, raw []byte) {
	k, err := read(raw)
	if err != nil {
		if !slices.ContainsFunc(known, func(e error) bool { return errors.Is(err, e) }) {
			t.Fatalf("an error without a name: %v", err)
		}
		return
	}
	for _, out := range [][]byte{k.JPEG, k.Thumb} {
		if c, err := jpeg.DecodeConfig(bytes.NewReader(out)); err != nil || c.Width < 1 || c.Height < 1 {
			t.Fatalf("what is kept is no picture: %v", err)
		}
	}
	if len(k.JPEG) > photo.MaxKept || len(k.Thumb) > photo.MaxThumb || k.Width > 1920 || k.Height > 1920 {
		t.Fatalf("%d bytes, %d × %d are kept", len(k.JPEG), k.Width, k.Height)
	}
}

func samples(t testing.TB) (all [][]byte) {
	names, err := filepath.Glob("testdata/*.*")
	if err != nil || len(names) < 20 {
		t.Fatalf("%d samples, %v", len(names), err)
	}
	for _, n := range names {
		if !strings.HasSuffix(n, ".md") {
			all = append(all, file(t, filepath.Base(n)))
		}
	}
	return all
}

// Pictures with bytes changed, left out and cut off are refused or read, never
// more.
func TestSpoiltPicturesAreRefusedOrRead(t *testing.T) {
	all := samples(t)
	rapid.Check(t, func(t *rapid.T) {
		raw := bytes.Clone(rapid.SampledFrom(all).Draw(t, "sample"))
		for range rapid.IntRange(1, 6).Draw(t, "times") {
			at := rapid.IntRange(0, len(raw)-1).Draw(t, "at")
			switch rapid.SampledFrom([]string{"change", "change", "leave out", "cut off"}).Draw(t, "how") {
			case "change":
				raw[at] = rapid.Byte().Draw(t, "to")
			case "leave out":
				raw = slices.Delete(raw, at, min(len(raw), at+rapid.IntRange(1, 40).Draw(t, "bytes")))
			case "cut off":
				raw = raw[:at]
			}
			if len(raw) == 0 {
				break
			}
		}
		sound(t, raw)
	})
}

func FuzzRead(f *testing.F) {
	for _, raw := range samples(f) {
		f.Add(raw)
	}
	f.Fuzz(func(t *testing.T, raw []byte) { sound(t, raw) })
}

func TestHash(t *testing.T) {
	h := photo.HashOf([]byte("abc"))
	const want = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" // FIPS 180-4, its example of one block
	if h.String() != want {
		t.Errorf("%s, want %s", h, want)
	}
	if again, err := photo.ParseHash(want); err != nil || again != h {
		t.Errorf("read back as %s, %v", again, err)
	}
	for _, bad := range []string{"", want[1:], want + "0", strings.ToUpper(want), "../" + want[3:], want[:63] + "g"} {
		if _, err := photo.ParseHash(bad); err == nil {
			t.Errorf("%q is taken for a hash", bad)
		}
	}
}
