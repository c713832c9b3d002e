package photo

import (
	"errors"
	"fmt"
	"io"
	"os"
)

// Upload is a picture as it was sent, in a temporary file that has no name any more, so that it goes with the last who
// holds it open. Slow senders take no memory this way.
type Upload struct {
	file *os.File
	size int64
}

// Receive reads a picture to its end, at most MaxBytes of it. What went wrong in r comes back wrapped.
func Receive(r io.Reader) (*Upload, error) {
	f, err := os.CreateTemp("", "tagalong-photo-")
	if err != nil {
		return nil, fmt.Errorf("make room for a picture: %w", err)
	}
	u := &Upload{file: f}
	if err := os.Remove(f.Name()); err != nil {
		return nil, errors.Join(fmt.Errorf("make room for a picture: %w", err), f.Close())
	}
	u.size, err = io.Copy(f, io.LimitReader(r, MaxBytes+1))
	switch {
	case err != nil:
		err = fmt.Errorf("receive a picture: %w", err)
	case u.size > MaxBytes:
		err = ErrTooLarge
	case u.size == 0:
		err = ErrEmpty
	}
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return u, nil
}

// ReadAt reads what was sent.
func (u *Upload) ReadAt(p []byte, at int64) (int, error) { return u.file.ReadAt(p, at) }

// Size is how many bytes were sent.
func (u *Upload) Size() int64 { return u.size }

// Close gives its room back.
func (u *Upload) Close() error { return u.file.Close() }
