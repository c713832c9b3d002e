package shopday

import (
	"bufio"
	"bytes"
	"encoding/base64"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"

	"tagalong/internal/browsertest"
	"tagalong/internal/core"
)

const cameraSays = `[data-scan-says]`

// standIn is a BarcodeDetector for a Chromium that has none: it hands the frame
// to the test, which reads it with a decoder that is not ours.
const standIn = `window.BarcodeDetector = class {
	static async getSupportedFormats() { return window.formats ?? ["qr_code"]; }
	detect(video) {
		const c = document.createElement("canvas");
		c.width = video.videoWidth;
		c.height = video.videoHeight;
		c.getContext("2d").drawImage(video, 0, 0);
		return new Promise((done) => {
			window.found = (text) => { window.frame = null; done(text ? [{rawValue: text}] : []); };
			window.frame = c.toDataURL("image/png");
		});
	}
}`

// TestCamera: a traveller held before a tablet's camera opens its pallet, and a
// browser that can't read codes by camera says so. Chromium films a file in the
// place of a camera; on Linux it has no detector of codes, so the test reads
// the frames.
func TestCamera(t *testing.T) {
	film := filepath.Join(t.TempDir(), "film.y4m")
	s := open(t)
	h := &house{shop: s, chromium: browsertest.Start(t, chromedp.Flag("use-fake-device-for-media-stream", true),
		chromedp.Flag("use-fake-ui-for-media-stream", true), chromedp.Flag("use-file-for-fake-video-capture", film)),
		screens: map[core.StationID]*screen{}, looked: map[string]bool{}, codes: map[string]string{}}
	f := newFloor(s)
	pallet := f.blades
	h.at("ROUND-AL").does(core.PrintTraveller{Pallet: pallet})

	round := h.tablet("ROUND-AL")
	if asks[bool](round, `"BarcodeDetector" in window`) {
		t.Fatal("this Chromium can read codes by itself: the test must have it do so")
	}
	round.click("[data-camera]")
	round.sees(cameraSays, "This browser can't read codes by camera; use the hand scanner, or type the code.")
	round.look()
	round.types("[data-scan]", "P")
	round.until("the sentence to go once somebody types", `!document.querySelector("[data-scan-says]").checkVisibility()`)

	// A browser that detects, but no QR codes.
	round.open("/station")
	round.js(standIn + `; window.formats = ["ean_13"]`)
	round.click("[data-camera]")
	round.sees(cameraSays, "This browser can't read codes by camera; use the hand scanner, or type the code.")

	// The ticket, as it was printed, before the camera.
	round.open("/pallets/" + string(pallet) + "/traveller.html")
	ticket := browsertest.Run(t, round.ctx, chromedp.Screenshot(chromedp.CSS("svg.qr"), chromedp.NodeVisible))
	must(t, filmOf(film, ticket))
	round.open("/station")
	round.js(standIn)
	round.click("[data-camera]")
	round.sees("#camera", "")
	round.sees("[data-camera]", "Stop")
	round.leaves(func() { round.reads() })
	round.sees("main h1", "Round the edges")
	if at := asks[string](round, "location.pathname + location.search"); at != "/station/pallets/"+string(pallet)+"?print=1" {
		t.Errorf("the camera led to %s", at)
	}

	// Stopped by a second tap, it films no longer.
	round.open("/station")
	round.js(standIn)
	round.click("[data-camera]")
	round.until("a frame", "window.frame")
	round.click("[data-camera]")
	round.js(`window.found("")`)
	round.until("the camera to stop", `document.querySelector("#camera").hidden && document.querySelector("[data-camera]").textContent === "Camera"`)

	// No camera at all.
	round.open("/station")
	round.js(standIn + `; navigator.mediaDevices.getUserMedia = async () => { throw new DOMException("none", "NotFoundError"); }`)
	round.click("[data-camera]")
	round.sees(cameraSays, "No camera may be used here; use the hand scanner, or type the code.")
}

// reads decodes frames of the film until a code is found in one, and tells the page.
func (s *screen) reads() {
	s.t.Helper()
	for range 20 {
		s.until("a frame", "window.frame")
		_, data, _ := strings.Cut(asks[string](s, "window.frame"), ",")
		raw, err := base64.StdEncoding.DecodeString(data)
		must(s.t, err)
		frame, err := png.Decode(bytes.NewReader(raw))
		must(s.t, err)
		bits, err := gozxing.NewBinaryBitmapFromImage(frame)
		must(s.t, err)
		found, err := qrcode.NewQRCodeReader().Decode(bits, nil)
		if err != nil {
			s.js(`window.found("")`)
			continue
		}
		s.js(`window.found(` + quoted(found.GetText()) + `)`)
		return
	}
	s.t.Fatal("no frame of the film holds a code that can be read")
}

// filmOf writes a film of one picture lying on a grey table, as YUV4MPEG2 (4:2:0,
// 1280 × 720), which Chromium plays over and over in the place of a camera. The
// picture is enlarged to fill the frame's height.
func filmOf(path string, picture []byte) error {
	p, err := png.Decode(bytes.NewReader(picture))
	if err != nil {
		return err
	}
	const w, h, margin = 1280, 720, 60
	frame := image.NewGray(image.Rect(0, 0, w, h))
	draw.Draw(frame, frame.Bounds(), image.NewUniform(color.Gray{150}), image.Point{}, draw.Src)
	side := h - 2*margin
	for y := range side {
		for x := range side {
			from := p.Bounds().Min.Add(image.Pt(x*p.Bounds().Dx()/side, y*p.Bounds().Dy()/side))
			frame.Set((w-side)/2+x, margin+y, p.At(from.X, from.Y))
		}
	}
	out, err := os.Create(path)
	if err != nil {
		return err
	}
	b := bufio.NewWriter(out)
	fmt.Fprintf(b, "YUV4MPEG2 W%d H%d F10:1 Ip A1:1 C420jpeg\n", w, h)
	for range 3 {
		b.WriteString("FRAME\n")
		b.Write(frame.Pix)
		b.Write(bytes.Repeat([]byte{128}, w*h/2)) // no colour
	}
	if err := b.Flush(); err != nil {
		return err
	}
	return out.Close()
}
