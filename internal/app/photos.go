package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"sync"
	"time"

	"tagalong/internal/core"
	"tagalong/internal/photo"
)

// PhotoKind is what a refused photo is called on record.
const PhotoKind = "photo"

// MaxPhotos is the most photos that go with one command.
const MaxPhotos = 6

// One device, or one person at the office, sends no more photos than this in so
// long: far more than anybody takes, and less than would fill a disk unnoticed.
const (
	photosWithin = 10 * time.Minute
	mostPhotos   = 60
)

// photoDoneWithin is how long a photo may wait its turn and be worked on.
const photoDoneWithin = 20 * time.Second

// PhotoTaken is what whoever sent a photo is told of it.
type PhotoTaken struct {
	Hash   string `json:"hash"`
	Width  int    `json:"width"` // pixels, upright
	Height int    `json:"height"`
}

// TakePhoto takes a picture in and keeps what [photo.Read] makes of it. What is
// no picture is refused. It reads r to its end first, for as long as that takes:
// what is to be done in time begins then, whatever ctx says. A refusal is
// recorded.
func (s *Service) TakePhoto(ctx context.Context, by Caller, r io.Reader) (PhotoTaken, error) {
	taken, err := s.takePhoto(ctx, by, r)
	return taken, s.note(context.WithoutCancel(ctx), by, PhotoKind, "", err)
}

func (s *Service) takePhoto(ctx context.Context, by Caller, r io.Reader) (PhotoTaken, error) {
	if after := s.photos.another(by, s.Clock()); after > 0 {
		refused := Refuse("photo-too-often", "most", strconv.Itoa(mostPhotos), "span", spoken(photosWithin), "wait", spoken(after)).after(after)
		return PhotoTaken{}, refused
	}
	sent, err := photo.Receive(r)
	if err != nil {
		return PhotoTaken{}, noPhoto(err)
	}
	defer sent.Close()
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), photoDoneWithin)
	defer cancel()
	kept, err := photo.Read(ctx, sent, sent.Size())
	if err != nil {
		return PhotoTaken{}, noPhoto(err)
	}
	err = s.Store.KeepPhoto(ctx, Photo{Kept: kept, TakenBy: by.Signer(), Tablet: by.Tablet, Station: by.Station, At: s.Clock()})
	if err != nil {
		return PhotoTaken{}, fmt.Errorf("keep a photo: %w", err)
	}
	return PhotoTaken{Hash: kept.Hash.String(), Width: kept.Width, Height: kept.Height}, nil
}

// noPhotoCodes are the refusals of pictures that are not taken.
var noPhotoCodes = []struct {
	err  error
	code string
}{
	{photo.ErrEmpty, "photo-empty"},
	{photo.ErrTooLarge, "photo-too-large"},
	{photo.ErrNotPicture, "photo-not-a-picture"},
	{photo.ErrHEIF, "photo-heif"},
	{photo.ErrAnimated, "photo-moves"},
	{photo.ErrTooManyPixels, "photo-too-many-pixels"},
	{photo.ErrCutShort, "photo-cut-short"},
	{photo.ErrDamaged, "photo-damaged"},
}

// noPhoto makes a refusal of why a picture is not taken. What is a fault of the
// machine stays one.
func noPhoto(err error) error {
	for _, c := range noPhotoCodes {
		if errors.Is(err, c.err) {
			return Refuse(c.code, "most", strconv.Itoa(photo.MaxBytes>>20)+" MB")
		}
	}
	if errors.Is(err, io.ErrUnexpectedEOF) { // who sent it has gone
		return Refuse("photo-cut-short")
	}
	return err
}

// Photo reads a kept photo, or its thumbnail, by its hash as text; ErrNotFound
// where there is none. The bearer of a link sees those only that bearers of the
// same consignment's links took. Its media type is [photo.Type].
func (s *Service) Photo(ctx context.Context, by Caller, hash string, thumb bool) ([]byte, error) {
	h, err := photo.ParseHash(hash)
	if err != nil {
		return nil, ErrNotFound
	}
	if by.Bears() {
		taker, err := s.Store.PhotoTaker(ctx, h)
		if err != nil {
			return nil, err
		}
		if !bearsFor(taker, by.Bearer.Consignment) {
			return nil, ErrNotFound
		}
	}
	return s.Store.PhotoBytes(ctx, h, thumb)
}

// knowPhotos checks that the photos a command names are kept here.
func (s *Service) knowPhotos(ctx context.Context, body core.Body) error {
	named := core.PhotosOf(body)
	if len(named) == 0 {
		return nil
	}
	if len(named) > MaxPhotos {
		return Refuse("photos-too-many", "most", strconv.Itoa(MaxPhotos), "count", strconv.Itoa(len(named)))
	}
	var all []photo.Hash
	for _, name := range named {
		text, _, err := core.ParsePhoto(name)
		if err != nil {
			return Refuse("bad-value", "field", "photos", "problem", "a photo is named by 64 hexadecimal digits, perhaps with the place of a ring on it")
		}
		h, err := photo.ParseHash(text)
		if err != nil {
			return fmt.Errorf("the name of a photo: %w", err)
		}
		if slices.Contains(all, h) {
			return Refuse("bad-value", "field", "photos", "problem", "it names one photo twice")
		}
		all = append(all, h)
	}
	unknown, err := s.Store.UnknownPhotos(ctx, all)
	switch {
	case err != nil:
		return fmt.Errorf("look for photos: %w", err)
	case len(unknown) > 0:
		return Refuse("photo-unknown", "photo", unknown[0].String()[:8], "count", strconv.Itoa(len(unknown)))
	}
	return nil
}

// SweepPhotos takes away the photos that no command named within a day: taken,
// and left. It says how many.
func (s *Service) SweepPhotos(ctx context.Context) (int, error) { return s.Store.SweepPhotos(ctx) }

// photoTally counts the photos each device or person sent lately.
type photoTally struct {
	mu   sync.Mutex
	sent map[string][]time.Time
}

// another counts one more photo, or says how long until there may be one.
func (t *photoTally) another(by Caller, now time.Time) time.Duration {
	t.mu.Lock()
	defer t.mu.Unlock()
	old := func(at time.Time) bool { return now.Sub(at) >= photosWithin }
	for who, sent := range t.sent {
		if old(sent[len(sent)-1]) {
			delete(t.sent, who)
		}
	}
	who := "tablet " + string(by.Tablet)
	if !by.OnTablet() {
		who = "person " + string(by.Signer())
	}
	lately := slices.DeleteFunc(t.sent[who], old)
	if len(lately) >= mostPhotos {
		t.sent[who] = lately
		return photosWithin - now.Sub(lately[0])
	}
	if t.sent == nil {
		t.sent = map[string][]time.Time{}
	}
	t.sent[who] = append(lately, now)
	return 0
}
