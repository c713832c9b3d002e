package paper

import (
	"bytes"
	"fmt"
	"io"
	"testing"

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

// Five hundred travellers of three lots in one PDF: the aim is 5 s and 10 MB.
func BenchmarkTravellers500(b *testing.B) {
	ts := manyTravellers(500)
	var size countWriter
	for b.Loop() {
		size = 0
		if err := WriteTravellers(&size, ts); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(size)/1e6, "MB")
	if size > 10e6 {
		b.Errorf("%d bytes, more than 10 MB", size)
	}
}

// The same pages by a bare loop of the PDF library: the texts and the codes
// where they were placed, without layout, frames or symbols.
func BenchmarkBareLoop500(b *testing.B) {
	ts := manyTravellers(500)
	type word struct {
		page   int
		x, y   float64
		size   float64
		face   int
		string string
	}
	var words []word
	record := func(s *sheet) {
		s.placed = func(frame rect, t text, xs, _ []float64) {
			for i, l := range t.lines {
				words = append(words, word{s.pdf.PageNo(), xs[i], frame.y + (float64(i)+0.79)*t.style.line(), t.style.size, t.style.face, l})
			}
		}
	}
	if err := writeTravellers(io.Discard, "t", ts[:1], record); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		s := newSheet("bare", "", ts[0].PrintedAt)
		for i := range ts {
			symbol, err := code.QR(ts[i].Address)
			if err != nil {
				b.Fatal(err)
			}
			page := 0
			for _, w := range words {
				if w.page != page {
					page = w.page
					s.addPage()
					s.qr(symbol, 12, 10, qrRest)
				}
				s.setFont(w.face, w.size)
				s.pdf.Text(w.x, w.y, w.string)
			}
		}
		var out bytes.Buffer
		if err := s.write(&out); err != nil {
			b.Fatal(err)
		}
	}
}
