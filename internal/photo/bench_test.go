package photo_test

import (
	"bytes"
	"image"
	"image/jpeg"
	"math/rand/v2"
	"os"
	"regexp"
	"runtime/debug"
	"strconv"
	"syscall"
	"testing"
	"time"

	"tagalong/internal/photo"
)

// camera is a picture of 48 megapixels as a phone writes it, of 25 MB or nearly:
// edges, shades, and grain.
func camera(b *testing.B) []byte {
	b.Helper()
	const w, h = 8064, 6048
	img := image.NewYCbCr(image.Rect(0, 0, w, h), image.YCbCrSubsampleRatio420)
	random := rand.New(rand.NewPCG(48, 25))
	for y := range h {
		for x := range w {
			v := 60 + x*120/w
			if (x/700+y/500)%3 == 0 {
				v += 50
			}
			img.Y[y*img.YStride+x] = byte(v + int(random.Uint32()%24))
		}
	}
	for i := range img.Cb {
		img.Cb[i], img.Cr[i] = byte(110+random.Uint32()%12), byte(140+random.Uint32()%12)
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, img, &jpeg.Options{Quality: 94}); err != nil {
		b.Fatal(err)
	}
	return out.Bytes()
}

// BenchmarkLargest takes the largest picture in: its time, the most memory the
// process came to have for it (Linux tells), and what is kept.
func BenchmarkLargest(b *testing.B) {
	sent, err := photo.Receive(bytes.NewReader(camera(b)))
	if err != nil {
		b.Fatal(err)
	}
	defer sent.Close()
	debug.FreeOSMemory() // what drew it
	peak(b)
	before := peak(b)
	var k photo.Kept
	spent := spentCPU(b)
	for b.Loop() {
		if k, err = photo.Read(b.Context(), sent, sent.Size()); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric((spentCPU(b)-spent).Seconds()*1000/float64(b.N), "cpu-ms")
	b.ReportMetric(float64(sent.Size())/1e6, "MB-sent")
	b.ReportMetric(float64(len(k.JPEG))/1e3, "kB-kept")
	b.ReportMetric(float64(len(k.Thumb))/1e3, "kB-thumb")
	b.ReportMetric(float64(peak(b))/1e6, "MB-peak")
	b.ReportMetric(float64(before)/1e6, "MB-before")
}

// spentCPU is the processor time of this process so far.
func spentCPU(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

var highWater = regexp.MustCompile(`VmHWM:\s+(\d+) kB`)

// peak is the most memory the process has had since it was asked before, in
// bytes; 0 where the system does not tell.
func peak(b *testing.B) int64 {
	status, err := os.ReadFile("/proc/self/status")
	m := highWater.FindSubmatch(status)
	if err != nil || m == nil {
		return 0
	}
	n, err := strconv.ParseInt(string(m[1]), 10, 64)
	if err != nil {
		b.Fatal(err)
	}
	_ = os.WriteFile("/proc/self/clear_refs", []byte("5"), 0) // starts the count anew; not everywhere allowed
	return n * 1024
}
