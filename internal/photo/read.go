package photo

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"runtime/debug"
	"slices"

	"golang.org/x/image/webp"
	"golang.org/x/sync/semaphore"
)

// mostMemory is how many bytes opened pictures may take together, whoever sent them: 50 megapixels as cameras write them
// (JPEG, 4:2:0), 28 of PNG.
const mostMemory = 112 << 20

// open bounds the memory of the process. Each picture takes at least half, so that no more than two are open at once.
var open = semaphore.NewWeighted(mostMemory)

// found is what a picture says of itself before it is opened.
type found struct {
	width, height int
	orientation   int   // of EXIF, 1 to 8
	memory        int64 // bytes it takes to open
	decode        func(io.Reader) (image.Image, error)
}

// Read takes a picture of so many bytes. It waits for its turn while two others are open, as long as ctx lets it.
func Read(ctx context.Context, r io.ReaderAt, size int64) (Kept, error) {
	if size > MaxBytes {
		return Kept{}, ErrTooLarge
	}
	whole := func() *bufio.Reader { return bufio.NewReaderSize(io.NewSectionReader(r, 0, size), 64<<10) }
	f, err := look(whole(), size)
	if err != nil {
		return Kept{}, err
	}
	if f.memory > mostMemory {
		return Kept{}, ErrTooManyPixels
	}
	room := max(f.memory, mostMemory/2)
	if err := open.Acquire(ctx, room); err != nil {
		return Kept{}, fmt.Errorf("wait to open a picture: %w", err)
	}
	defer open.Release(room)
	small, err := f.open(whole())
	if err != nil {
		return Kept{}, err
	}
	return keep(small.upright(f.orientation))
}

// open decodes a picture and makes it small.
func (f found) open(r io.Reader) (planes, error) {
	img, err := f.decode(r)
	if err != nil {
		return planes{}, reason(err)
	}
	if b := img.Bounds(); b.Dx() != f.width || b.Dy() != f.height {
		return planes{}, ErrDamaged
	}
	small := shrink(img, longestKept)
	if f.memory > mostMemory/8 {
		// The opened picture is garbage from here on. Left to the collector's own pace its room
		// would stay taken until as much again is asked for.
		img = nil
		debug.FreeOSMemory()
	}
	return small, nil
}

// reason is why a picture could not be opened.
func reason(err error) error {
	if errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF) {
		return fmt.Errorf("%w: %w", ErrCutShort, err)
	}
	return fmt.Errorf("%w: %w", ErrDamaged, err)
}

// look finds out what was sent by its first bytes, whatever its name or its media type say, and reads what it says of
// itself.
func look(r *bufio.Reader, size int64) (found, error) {
	head, err := r.Peek(min(12, int(size)))
	if err != nil {
		return found{}, reason(err)
	}
	var f found
	switch {
	case len(head) == 0:
		return found{}, ErrEmpty
	case len(head) < 12:
		return found{}, ErrNotPicture
	case string(head[:3]) == "\xff\xd8\xff":
		f, err = lookJPEG(r)
		f.decode = jpeg.Decode
	case string(head[:8]) == "\x89PNG\r\n\x1a\n":
		f, err = lookPNG(r)
		f.decode = png.Decode
	case string(head[:4]) == "RIFF" && string(head[8:12]) == "WEBP":
		f, err = lookWebP(r, size)
		f.decode = webp.Decode
	case string(head[4:8]) == "ftyp" && slices.Contains(heif, string(head[8:12])):
		return found{}, ErrHEIF
	default:
		return found{}, ErrNotPicture
	}
	switch {
	case err != nil && (errors.Is(err, ErrAnimated) || errors.Is(err, ErrDamaged)):
		return found{}, err
	case err != nil:
		return found{}, reason(err)
	case f.width < 1 || f.height < 1:
		return found{}, ErrDamaged
	}
	return f, nil
}

// heif are the brands of ISO/IEC 23008-12 and of AV1 pictures: codecs no library in Go reads.
var heif = []string{"heic", "heix", "heim", "heis", "hevc", "hevx", "hevm", "hevs", "mif1", "msf1", "avif", "avis"}
