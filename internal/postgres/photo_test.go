package postgres_test

import (
	"errors"
	"slices"
	"strings"
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
		"a name forgotten":  {"DELETE FROM photo_named", "seen.1"},
		"a name that isn't": {`UPDATE event SET payload = jsonb_set(payload::jsonb, '{photos,0}', '"corner.jpg"') WHERE id = 'seen.1'`, "seen.1"},
	} {
		t.Run(what, func(t *testing.T) {
			f := newFixture(t)
			h := f.keepPhoto(t, "a corner", "P1")
			f.keepPhoto(t, "an edge, of no event", "P1")
			a, _ := f.bear(t, "born", 5, core.Owner{})
			f.do(t, "seen", on(a), func(w core.World) core.Outcome { return shows("seen", w, h.String()) })
			if report := f.verified(t); report.Photos != 2 {
				t.Errorf("%d photos are verified, want 2", report.Photos)
			}
			f.plant(t, c.sql)
			f.found(t, postgres.FaultPhoto, c.about)
		})
	}
}

// shows is an event that photos go with.
func shows(event string, w core.World, photos ...string) core.Outcome {
	out := happen(event, w, core.EvProblemReported)
	out.Events[0].Photos = photos
	return out
}

// A photo that was taken and then left goes after a day; one that the record
// names stays for good, with or without a ring on it.
func TestPhotosThatNothingNamesAreSwept(t *testing.T) {
	f := newFixture(t)
	named, ringed := f.keepPhoto(t, "a corner", "P1"), f.keepPhoto(t, "a dent", "P1")
	left, young := f.keepPhoto(t, "a thumb in front", "P1"), f.keepPhoto(t, "just now", "P1")
	a, _ := f.bear(t, "born", 5, core.Owner{})
	f.do(t, "seen", on(a), func(w core.World) core.Outcome {
		return shows("seen", w, named.String(), ringed.String()+"#xywh=percent:20,30,25,10")
	})
	f.plant(t, "UPDATE photo SET recorded_at = now() - interval '25 hours'")
	f.plant(t, "UPDATE photo SET recorded_at = now() - interval '23 hours' WHERE hash = $1", young[:])
	if n, err := f.SweepPhotos(t.Context()); err != nil || n != 1 {
		t.Fatalf("swept %d, %v; want the one", n, err)
	}
	if got, err := f.UnknownPhotos(t.Context(), []photo.Hash{named, ringed, left, young}); err != nil || !slices.Equal(got, []photo.Hash{left}) {
		t.Errorf("gone are %v, %v", got, err)
	}
	if n, err := f.SweepPhotos(t.Context()); err != nil || n != 0 {
		t.Errorf("swept %d more, %v", n, err)
	}
	// Neither may the owner of the table take away what is named, or is young.
	owner := connect(t, f.db.OwnerURL)
	for _, h := range []photo.Hash{named, ringed, young} {
		if _, err := owner.Exec(t.Context(), "DELETE FROM tagalong.photo WHERE hash = $1", h[:]); err == nil {
			t.Errorf("the owner deleted %s", h)
		}
	}
	f.verified(t)
}

// A command that was let in with a photo that is swept before it is recorded
// records nothing.
func TestACommandThatNamesASweptPhotoIsNotRecorded(t *testing.T) {
	f := newFixture(t)
	a, _ := f.bear(t, "born", 5, core.Owner{})
	gone := photo.HashOf([]byte("swept"))
	_, err := f.Execute(t.Context(), core.Command{ID: "seen", Body: asked{"test", on(a)}, Station: "bench"}, shaOf("seen"), func(w core.World) core.Outcome {
		return shows("seen", w, gone.String())
	})
	if err == nil || !strings.Contains(err.Error(), "photo_named") {
		t.Errorf("recorded: %v", err)
	}
	if found, err := f.History(t.Context(), app.HistoryQuery{Pallet: a}); err != nil || len(found) != 1 {
		t.Errorf("on record: %d events, %v; want its birth", len(found), err)
	}
	f.verified(t)
}
