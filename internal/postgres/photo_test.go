package postgres_test

import (
	"errors"
	"slices"
	"testing"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/photo"
	"tagalong/internal/postgres"
)

// keepPhoto keeps invented bytes as a photo: what they show is not the store's concern.
func (f *fixture) keepPhoto(t testing.TB, bytes string, by core.PersonID) photo.Hash {
	t.Helper()
	h := photo.HashOf([]byte(bytes))
	p := app.Photo{Kept: photo.Kept{Hash: h, JPEG: []byte(bytes), Thumb: []byte("small " + bytes), Width: 4, Height: 3}, TakenBy: by, Tablet: "T1", Station: "bench", At: f.clock.Now()}
	if err := f.KeepPhoto(t.Context(), p); err != nil {
		t.Fatal(err)
	}
	return h
}

func TestPhotosAreKept(t *testing.T) {
	f := newFixture(t)
	one, other := f.keepPhoto(t, "a corner", "P1"), photo.HashOf([]byte("never taken"))
	f.keepPhoto(t, "a corner", "P2") // the same again
	for thumb, want := range map[bool]string{false: "a corner", true: "small a corner"} {
		if got, err := f.PhotoBytes(t.Context(), one, thumb); err != nil || string(got) != want {
			t.Errorf("%q, %v, want %q", got, err, want)
		}
		if _, err := f.PhotoBytes(t.Context(), other, thumb); !errors.Is(err, app.ErrNotFound) {
			t.Errorf("a photo never taken: %v", err)
		}
	}
	if got, err := f.UnknownPhotos(t.Context(), []photo.Hash{other, one, {}}); err != nil || !slices.Equal(got, []photo.Hash{other, {}}) {
		t.Errorf("unknown are %v, %v", got, err)
	}
	var by string
	if err := connect(t, f.db.AppURL).QueryRow(t.Context(), "SELECT string_agg(taken_by, ' ') FROM tagalong.photo").Scan(&by); err != nil || by != "P1" {
		t.Errorf("taken by %q, %v; want P1, who was first", by, err)
	}
}

// A photo that an event names and that is gone, and one whose bytes are not
// those it was named by.
func TestVerifyFindsPhotosThatAreGoneOrOthers(t *testing.T) {
	for what, c := range map[string]struct{ sql, about string }{
		"a lost photo":      {"DELETE FROM photo WHERE bytes = 'a corner'", "seen.1"},
		"an edited photo":   {"UPDATE photo SET bytes = 'a coroner' WHERE bytes = 'a corner'", photo.HashOf([]byte("a corner")).String()},
		"a photo renamed":   {"UPDATE photo SET hash = sha256('b') WHERE bytes = 'a corner'", "seen.1"},
		"a name that isn't": {`UPDATE event SET payload = jsonb_set(payload::jsonb, '{photos,0}', '"corner.jpg"') WHERE id = 'seen.1'`, "seen.1"},
	} {
		t.Run(what, func(t *testing.T) {
			f := newFixture(t)
			h := f.keepPhoto(t, "a corner", "P1")
			f.keepPhoto(t, "an edge, of no event", "P1")
			a, _ := f.bear(t, "born", 5, core.Owner{})
			f.do(t, "seen", on(a), func(w core.World) core.Outcome {
				out := happen("seen", w, core.EvProblemReported)
				out.Events[0].Photos = []string{h.String()}
				return out
			})
			if report := f.verified(t); report.Photos != 2 {
				t.Errorf("%d photos are verified, want 2", report.Photos)
			}
			f.plant(t, c.sql)
			f.found(t, postgres.FaultPhoto, c.about)
		})
	}
}
