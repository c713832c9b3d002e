package paper

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"syscall"
	"testing"
	"time"

	"tagalong/internal/code"
)

// countWriter counts what is written to it.
type countWriter int64

func (c *countWriter) Write(p []byte) (int, error) {
	*c += countWriter(len(p))
	return len(p), nil
}

func manyTravellers(n int) []Traveller {
	out := make([]Traveller, n)
	for i := range out {
		out[i] = exampleTraveller()
		out[i].Code = fmt.Sprintf("P%03d M2QX", i)
		out[i].Address = fmt.Sprintf("HTTPS://TAGALONG.EXAMPLE/P/P%03dM2QX/2", i)
	}
	return out
}

// What a whole order's travellers may take: five hundred of three lots, on
// whatever size of paper.
const (
	mostBytes500   = 10e6
	mostSeconds500 = 5.0 // of the processor: a machine that does other work too is no judge
)

// Five hundred travellers of three lots fit a mail on every size of paper. All
// five hundred are drawn: their codes differ, and a code is what takes room.
func TestFiveHundredTravellersAreSmall(t *testing.T) {
	ts := manyTravellers(500)
	for _, size := range Sizes() {
		var n countWriter
		if err := WriteTravellers(&n, size, ts...); err != nil {
			t.Fatal(err)
		}
		if n > mostBytes500 {
			t.Errorf("%v: %d bytes, more than %.0f", size, n, mostBytes500)
		}
	}
}

func BenchmarkTravellers500(b *testing.B) {
	ts := manyTravellers(500)
	for _, paper := range Sizes() {
		b.Run(paper.String(), func(b *testing.B) {
			var size countWriter
			spent := spentCPU(b)
			for b.Loop() {
				size = 0
				if err := WriteTravellers(&size, paper, ts...); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(size)/1e6, "MB")
			if size > mostBytes500 {
				b.Errorf("%d bytes, more than %.0f", size, mostBytes500)
			}
			s := (spentCPU(b) - spent).Seconds() / float64(b.N)
			b.ReportMetric(s, "cpu-s")
			if s > mostSeconds500 {
				b.Errorf("%.1f s, more than %.0f", s, mostSeconds500)
			}
		})
	}
}

// The same pages by a bare loop of the PDF library: the same words and the same
// lines at places known beforehand, and a code for each; no layout.
func BenchmarkBareLoop500(b *testing.B) {
	ts := manyTravellers(500)
	type word struct {
		x, y, size float64
		face       int
		text       string
	}
	words := map[int][]word{}
	record := func(s *sheet) {
		s.pdf.SetCompression(false)
		s.placed = func(frame rect, t text, xs, _ []float64) {
			for i, l := range t.lines {
				p := s.pdf.PageNo()
				words[p] = append(words[p], word{xs[i], frame.y + (float64(i)+0.79)*t.style.line(), t.style.size, t.style.face, l})
			}
		}
	}
	var plain bytes.Buffer
	if err := writeTravellers(&plain, A4, record, ts[0]); err != nil {
		b.Fatal(err)
	}
	pages := drawn(plain.String())
	if len(pages) != len(words) {
		b.Fatalf("%d pages drawn, words on %d", len(pages), len(words))
	}
	spent := spentCPU(b)
	for b.Loop() {
		s := newSheet(A4, "bare", "", ts[0].PrintedAt)
		for i := range ts {
			if _, err := code.QR(ts[i].Address); err != nil {
				b.Fatal(err)
			}
			for p, lines := range pages {
				s.addPage()
				s.pdf.RawWriteStr(lines)
				for _, w := range words[p+1] {
					s.setFont(w.face, w.size)
					s.pdf.Text(w.x, w.y, w.text)
				}
			}
		}
		if err := s.write(io.Discard); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric((spentCPU(b)-spent).Seconds()/float64(b.N), "cpu-s")
}

// spentCPU is the processor time this process has used.
func spentCPU(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// drawn is what each page of an uncompressed PDF draws besides text.
func drawn(pdf string) []string {
	var pages []string
	for _, part := range strings.Split(pdf, "\nstream\n")[1:] {
		content, _, _ := strings.Cut(part, "\nendstream")
		if !strings.Contains(content, " cm 0 g") {
			continue
		}
		var keep []string
		for _, op := range strings.Split(content, "\n") {
			if !strings.HasPrefix(op, "BT ") {
				keep = append(keep, op)
			}
		}
		pages = append(pages, strings.Join(keep, "\n"))
	}
	return pages
}
