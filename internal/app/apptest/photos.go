package apptest

import (
	"context"

	"tagalong/internal/app"
	"tagalong/internal/photo"
)

// KeepPhoto keeps a photo.
func (l *Live) KeepPhoto(_ context.Context, p app.Photo) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if _, there := l.photos[p.Hash]; !there {
		l.photos[p.Hash] = p
	}
	return l.Fault
}

// PhotoBytes is a kept photo or its thumbnail.
func (l *Live) PhotoBytes(_ context.Context, h photo.Hash, thumb bool) ([]byte, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	p, there := l.photos[h]
	switch {
	case !there:
		return nil, app.ErrNotFound
	case thumb:
		return p.Thumb, l.Fault
	}
	return p.JPEG, l.Fault
}

// UnknownPhotos lists those that are not kept.
func (l *Live) UnknownPhotos(_ context.Context, all []photo.Hash) ([]photo.Hash, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	var out []photo.Hash
	for _, h := range all {
		if _, there := l.photos[h]; !there {
			out = append(out, h)
		}
	}
	return out, l.Fault
}
