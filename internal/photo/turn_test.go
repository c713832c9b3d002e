package photo

import (
	"bytes"
	"context"
	"errors"
	"os"
	"strings"
	"testing"
	"testing/iotest"
)

// While two pictures are open a third waits its turn, no longer than it is let.
func TestNoMoreThanTwoAreOpen(t *testing.T) {
	raw, err := os.ReadFile("testdata/upright.png")
	if err != nil {
		t.Fatal(err)
	}
	const one = mostMemory / 2
	for range 2 {
		if err := open.Acquire(t.Context(), one); err != nil {
			t.Fatal(err)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	waited := make(chan error)
	go func() {
		_, err := Read(ctx, bytes.NewReader(raw), int64(len(raw)))
		waited <- err
	}()
	cancel()
	if err := <-waited; !errors.Is(err, context.Canceled) {
		t.Errorf("a third picture while two are open: %v", err)
	}
	open.Release(one)
	if _, err := Read(t.Context(), bytes.NewReader(raw), int64(len(raw))); err != nil {
		t.Errorf("a second picture while one is open: %v", err)
	}
	open.Release(one)
}

func TestReceive(t *testing.T) {
	u, err := Receive(strings.NewReader("a picture"))
	if err != nil {
		t.Fatal(err)
	}
	got := make([]byte, 7)
	if _, err := u.ReadAt(got, 2); err != nil || string(got) != "picture" || u.Size() != 9 {
		t.Errorf("%q of %d, %v", got, u.Size(), err)
	}
	if _, err := os.Stat(u.file.Name()); !os.IsNotExist(err) {
		t.Errorf("what was sent lies about as %s: %v", u.file.Name(), err)
	}
	if err := u.Close(); err != nil {
		t.Error(err)
	}
	if _, err := Receive(strings.NewReader("")); !errors.Is(err, ErrEmpty) {
		t.Errorf("nothing: %v", err)
	}
	if _, err := Receive(&endless{}); !errors.Is(err, ErrTooLarge) {
		t.Errorf("without end: %v", err)
	}
	broken := errors.New("the sender has gone")
	if _, err := Receive(iotest.ErrReader(broken)); !errors.Is(err, broken) {
		t.Errorf("a sender who goes: %v", err)
	}
}

type endless struct{}

func (endless) Read(p []byte) (int, error) { return len(p), nil }

// What can't be read as EXIF says nothing of how a picture lies.
func TestOrientationThatCantBeRead(t *testing.T) {
	whole := "II*\x00\x08\x00\x00\x00\x01\x00\x12\x01\x03\x00\x01\x00\x00\x00\x06\x00\x00\x00"
	if got := orientation([]byte(whole)); got != 6 {
		t.Fatalf("%d, want 6", got)
	}
	for n := range len(whole) {
		if got := orientation([]byte(whole[:n])); got != 1 {
			t.Errorf("of %d bytes: %d", n, got)
		}
	}
	for _, bad := range []string{"", "XX*\x00", "II*\x00\xff\xff\xff\xff", strings.Replace(whole, "\x06\x00\x00\x00", "\x09\x00\x00\x00", 1),
		strings.Replace(whole, "\x12\x01\x03", "\x12\x01\x02", 1)} {
		if got := orientation([]byte(bad)); got != 1 {
			t.Errorf("%q: %d", bad, got)
		}
	}
}
