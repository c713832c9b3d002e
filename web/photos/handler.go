// Package photos takes pictures in from tablets, phones and the office, and
// shows those that are kept.
package photos

import (
	"bytes"
	"errors"
	"io"
	"mime"
	"net/http"
	"time"

	"github.com/go-chi/chi/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/photo"
	"tagalong/web/endpoint"
)

// A picture may come slowly, from the far end of the yard.
const sentWithin = 2 * time.Minute

// around is the most bytes a form puts around the picture in it.
const around = 16 << 10

// Endpoints are those of photos.
func Endpoints(s *app.Service) []endpoint.Endpoint {
	who := endpoint.TabletOr().OrBearer()
	return []endpoint.Endpoint{
		{Method: http.MethodPost, Path: "/photos", Access: who, Handler: take(s), MaxBody: photo.MaxBytes + around,
			Doc: "Takes one picture in, as the body or in a form, and answers its hash, width and height as JSON."},
		{Method: http.MethodGet, Path: "/photos/{hash}", Access: who, Handler: show(s, false),
			Doc: "A kept picture, as JPEG."},
		{Method: http.MethodGet, Path: "/photos/{hash}/thumb", Access: who, Handler: show(s, true),
			Doc: "A kept picture made small, as JPEG."},
		{Method: http.MethodGet, Path: "/photos/{hash}/ringed/{box}", Access: who, Handler: ringed(s),
			Doc: "A copy of a kept picture with a ring drawn on it; the box is the ring's left, top, width and height in percent: 20,30,25,10."},
	}
}

func take(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		until := time.Now().Add(sentWithin)
		to := http.NewResponseController(w)
		_ = errors.Join(to.SetReadDeadline(until), to.SetWriteDeadline(until.Add(sentWithin))) // not every connection has them
		picture, err := pictureIn(r)
		if err != nil {
			return s.NoteDenied(r.Context(), endpoint.CallerOf(r), app.PhotoKind, err)
		}
		taken, err := s.TakePhoto(r.Context(), endpoint.CallerOf(r), picture)
		if err != nil {
			return err
		}
		return endpoint.JSON(w, taken)
	}
}

// pictureIn is the picture in a request: the one file of a form, or the body.
func pictureIn(r *http.Request) (io.Reader, error) {
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil || kind != "multipart/form-data" {
		return r.Body, nil // what it is, its first bytes say
	}
	form, err := r.MultipartReader()
	if err != nil {
		return nil, app.Refuse("malformed", "detail", "its parts can't be told apart")
	}
	for {
		part, err := form.NextPart()
		switch {
		case errors.Is(err, io.EOF):
			return nil, app.Refuse("photo-empty")
		case err != nil:
			return nil, app.Refuse("malformed", "detail", "its parts can't be told apart")
		case part.FileName() != "":
			return part, nil
		}
	}
}

// show answers a picture.
func show(s *app.Service, thumb bool) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		hash := chi.URLParam(r, "hash")
		picture, err := s.Photo(r.Context(), endpoint.CallerOf(r), hash, thumb)
		if err != nil {
			return err
		}
		tag := hash
		if thumb {
			tag += "-thumb"
		}
		answer(w, r, tag, picture)
		return nil
	}
}

// ringed answers a copy with a ring on it.
func ringed(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		hash, box := chi.URLParam(r, "hash"), chi.URLParam(r, "box")
		hash, ring, err := core.ParsePhoto(hash + "#xywh=percent:" + box)
		if err != nil {
			return app.ErrNotFound
		}
		picture, err := s.Photo(r.Context(), endpoint.CallerOf(r), hash, false)
		if err != nil {
			return err
		}
		if picture, err = photo.Ringed(picture, photo.Box{X: ring.X, Y: ring.Y, W: ring.W, H: ring.H}); err != nil {
			return err
		}
		answer(w, r, hash+"-"+box, picture)
		return nil
	}
}

// answer sends a picture. What an address names never changes, so a browser that
// has it never asks again; others between the two may not keep it.
func answer(w http.ResponseWriter, r *http.Request, tag string, picture []byte) {
	h := w.Header()
	h.Set("Content-Type", photo.Type)
	h.Set("Cache-Control", "private, max-age=31536000, immutable")
	h.Set("ETag", `"`+tag+`"`)
	h.Set("X-Content-Type-Options", "nosniff")
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(picture))
}
