package photo

import (
	"bufio"
	"errors"
	"io"
	"strings"
)

// Markers of ITU-T T.81, table B.1.
const (
	sof0, sof1, sof2 = 0xc0, 0xc1, 0xc2
	rst0, rst7       = 0xd0, 0xd7
	eoi, sos         = 0xd9, 0xda
	app1, app14      = 0xe1, 0xee
)

// lookJPEG goes through a JPEG from marker to marker to its end, as the decoder will.
func lookJPEG(r *bufio.Reader) (found, error) {
	f := found{orientation: 1}
	var frame frame
	if _, err := r.Discard(2); err != nil {
		return f, err
	}
	inScan := false
	for {
		marker, err := nextMarker(r, inScan)
		if err != nil {
			return f, err
		}
		switch {
		case marker == eoi:
			f.width, f.height, f.memory = frame.width, frame.height, frame.memory()
			return f, nil
		case rst0 <= marker && marker <= rst7:
			continue
		}
		segment, err := segmentOf(r, marker)
		if err != nil {
			return f, err
		}
		inScan = marker == sos
		switch marker {
		case sof0, sof1, sof2:
			if frame.width == 0 {
				frame.read(segment, marker == sof2)
			}
		case app1:
			if tiff, ok := strings.CutPrefix(string(segment), exifHeader); ok && f.orientation == 1 {
				f.orientation = orientation([]byte(tiff))
			}
		case app14: // of Adobe, Technical Note 5116: colour transform 0 is RGB or CMYK
			if len(segment) >= 12 && string(segment[:5]) == "Adobe" {
				frame.raw = frame.raw || segment[11] == 0
			}
		}
	}
}

// nextMarker reads to the next marker: over a scan's data, in which 0xff is followed by 0 or is a restart, or over what
// decoders overlook.
func nextMarker(r *bufio.Reader, inScan bool) (byte, error) {
	for {
		if _, err := r.ReadSlice(0xff); errors.Is(err, bufio.ErrBufferFull) {
			continue
		} else if err != nil {
			return 0, io.ErrUnexpectedEOF
		}
		b := byte(0xff)
		for b == 0xff {
			var err error
			if b, err = r.ReadByte(); err != nil {
				return 0, io.ErrUnexpectedEOF
			}
		}
		if b == 0 || inScan && rst0 <= b && b <= rst7 {
			continue
		}
		return b, nil
	}
}

// segmentOf reads the segment of a marker where it is one that is looked at, and passes over any other.
func segmentOf(r *bufio.Reader, marker byte) ([]byte, error) {
	var length [2]byte
	if _, err := io.ReadFull(r, length[:]); err != nil {
		return nil, err
	}
	n := int(length[0])<<8 + int(length[1]) - 2
	if n < 0 {
		return nil, ErrDamaged
	}
	switch marker {
	case sof0, sof1, sof2, app1, app14:
		segment := make([]byte, n)
		_, err := io.ReadFull(r, segment)
		return segment, err
	}
	_, err := r.Discard(n)
	return nil, err
}

// frame is a frame header (B.2.2).
type frame struct {
	width, height int
	progressive   bool
	parts         []part
	raw           bool // its colours are RGB, which is opened by way of a second copy
}

// part is a component's sampling factors.
type part struct{ id, h, v int }

func (f *frame) read(s []byte, progressive bool) {
	if len(s) < 6 || len(s) < 6+3*int(s[5]) {
		return // the decoder will say so
	}
	f.progressive = progressive
	f.height, f.width = int(s[1])<<8+int(s[2]), int(s[3])<<8+int(s[4])
	for i := range int(s[5]) {
		c := s[6+3*i:]
		f.parts = append(f.parts, part{int(c[0]), int(c[1] >> 4), int(c[1] & 15)})
	}
	if len(f.parts) == 3 && f.parts[0].id == 'R' && f.parts[1].id == 'G' && f.parts[2].id == 'B' {
		f.raw = true
	}
}

// memory is what the decoder takes: a byte for every sample, four for every coefficient of a progressive one, and the
// copies it makes of RGB and of CMYK.
func (f *frame) memory() int64 {
	if len(f.parts) == 0 {
		return 0
	}
	pixels := int64(f.width) * int64(f.height)
	first := max(1, int64(f.parts[0].h*f.parts[0].v))
	var samples int64
	for _, p := range f.parts {
		samples += pixels * max(1, int64(p.h*p.v)) / first
	}
	memory := samples
	if f.progressive {
		memory += 4 * samples
	}
	if f.raw || len(f.parts) == 4 {
		memory += 8 * pixels
	}
	return memory
}
