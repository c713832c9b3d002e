package photo

import (
	"bufio"
	"encoding/binary"
	"io"
	"strings"
)

// mostEXIF is the most bytes of EXIF that are looked at; in a JPEG there can't be more.
const mostEXIF = 64 << 10

// lookPNG goes through the chunks of a PNG (ISO/IEC 15948, 5.3).
func lookPNG(r *bufio.Reader) (found, error) {
	f := found{orientation: 1}
	if _, err := r.Discard(8); err != nil {
		return f, err
	}
	for {
		var head [8]byte
		if _, err := io.ReadFull(r, head[:]); err != nil {
			return f, err
		}
		length := int64(binary.BigEndian.Uint32(head[:]))
		switch name := string(head[4:]); name {
		case "IEND":
			return f, nil
		case "acTL": // animation control
			return f, ErrAnimated
		case "IHDR":
			header, err := take(r, length, 13)
			if err != nil || len(header) < 13 {
				return f, ErrDamaged
			}
			f.width, f.height = int(binary.BigEndian.Uint32(header)), int(binary.BigEndian.Uint32(header[4:]))
			f.memory = memoryPNG(f.width, f.height, header[8], header[9], header[12])
		case "eXIf":
			exif, err := take(r, length, mostEXIF)
			if err != nil {
				return f, err
			}
			f.orientation = orientation(exif)
		default:
			if _, err := take(r, length, 0); err != nil {
				return f, err
			}
		}
		if _, err := r.Discard(4); err != nil { // its check sum
			return f, err
		}
	}
}

// memoryPNG is what the decoder takes for a picture of a depth and a colour type (table 11.1), interlaced or not.
func memoryPNG(width, height int, depth, colour, interlace byte) int64 {
	const palette = 3
	each := int64(4)
	switch {
	case depth == 16:
		each = 8
	case colour == palette:
		each = 1
	}
	if interlace != 0 {
		each *= 2 // each pass is a picture of its own, put together afterwards
	}
	return times(width, height) * each
}

// times multiplies sizes that may be anything 32 bits hold.
func times(width, height int) int64 {
	if int64(width) > mostMemory || int64(height) > mostMemory {
		return mostMemory + 1
	}
	return int64(width) * int64(height)
}

// take reads the first bytes of a chunk, at most so many, and passes over the rest.
func take(r *bufio.Reader, length, most int64) ([]byte, error) {
	out := make([]byte, min(length, most))
	if _, err := io.ReadFull(r, out); err != nil {
		return nil, err
	}
	_, err := io.CopyN(io.Discard, r, length-int64(len(out)))
	return out, err
}

// lookWebP goes through the chunks of a WebP (RFC 9649, 2.3 to 2.7).
func lookWebP(r *bufio.Reader, size int64) (found, error) {
	f := found{orientation: 1}
	var form [12]byte
	if _, err := io.ReadFull(r, form[:]); err != nil {
		return f, err
	}
	left := int64(binary.LittleEndian.Uint32(form[4:])) - 4
	if left+12 > size {
		return f, io.ErrUnexpectedEOF
	}
	var each int64 // bytes for a pixel
	for left >= 8 {
		var head [8]byte
		if _, err := io.ReadFull(r, head[:]); err != nil {
			return f, err
		}
		length := int64(binary.LittleEndian.Uint32(head[4:]))
		name := string(head[:4])
		left -= 8 + length + length%2
		chunk, err := take(r, length+length%2, mostEXIF)
		if err != nil {
			return f, err
		}
		switch name {
		case "ANIM", "ANMF":
			return f, ErrAnimated
		case "VP8X":
			if len(chunk) < 10 {
				return f, ErrDamaged
			}
			if chunk[0]&0x02 != 0 {
				return f, ErrAnimated
			}
		case "ALPH": // often lossless, as a picture of its own
			each += 12
		case "VP8 ":
			f.width, f.height = sizeVP8(chunk)
			each += 2
		case "VP8L":
			f.width, f.height = sizeVP8L(chunk)
			each += 12
		case "EXIF":
			f.orientation = orientation([]byte(strings.TrimPrefix(string(chunk), exifHeader)))
		}
	}
	f.memory = times(f.width, f.height) * each
	return f, nil
}

// sizeVP8 is the size in a key frame's header (RFC 6386, 9.1).
func sizeVP8(c []byte) (width, height int) {
	if len(c) < 10 {
		return 0, 0
	}
	return int(binary.LittleEndian.Uint16(c[6:]) & 0x3fff), int(binary.LittleEndian.Uint16(c[8:]) & 0x3fff)
}

// sizeVP8L is the size in a lossless picture's header (RFC 9649, 3.4).
func sizeVP8L(c []byte) (width, height int) {
	if len(c) < 5 {
		return 0, 0
	}
	bits := binary.LittleEndian.Uint32(c[1:])
	return int(bits&0x3fff) + 1, int(bits>>14&0x3fff) + 1
}
