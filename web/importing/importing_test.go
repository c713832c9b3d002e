package importing

import (
	"context"
	"errors"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/intake"
)

func sent(n int) []intake.File { return []intake.File{{Name: "orders.csv", Data: make([]byte, n)}} }

func by(person string) owner { return owner{person: core.PersonID(person)} }

func here(s *shelf, u *upload) bool {
	_, ok := s.get(u.owner, u.id)
	return ok
}

// TestShelf: an upload lasts its time, a newer one of the same sign-in takes its
// place, and where there is no room the oldest goes; none while it is worked on.
func TestShelf(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShelf()
		s.room = 100
		a := s.put(by("a"), sent(40))
		if _, ok := s.get(by("b"), a.id); ok {
			t.Error("another has it")
		}
		if _, ok := s.get(owner{person: "a", session: [32]byte{1}}, a.id); ok {
			t.Error("another sign-in of the same person has it")
		}
		time.Sleep(time.Minute)
		b := s.put(by("b"), sent(40))
		time.Sleep(time.Minute)
		c := s.put(by("c"), sent(50))
		if here(s, a) || !here(s, b) || !here(s, c) {
			t.Errorf("without room for three, there are a %v, b %v, c %v", here(s, a), here(s, b), here(s, c))
		}
		b.begin(storing, "")
		b2 := s.put(by("b"), sent(30))
		if !here(s, b) || here(s, c) || !here(s, b2) {
			t.Errorf("while b is stored, there are b %v, c %v, b2 %v", here(s, b), here(s, c), here(s, b2))
		}
		b.end(stored, func() {})
		b3 := s.put(by("b"), sent(30))
		if here(s, b) || here(s, b2) || !here(s, b3) {
			t.Error("a newer upload does not take the place of those before")
		}
		time.Sleep(keptFor - time.Second)
		if !here(s, b3) {
			t.Error("it did not last its time")
		}
		time.Sleep(2 * time.Second)
		if here(s, b3) {
			t.Error("it outlasts its time")
		}
	})
}

// TestWorkGoesWrong: each way, the page says what it means for the files, and
// the import can be looked at again.
func TestWorkGoesWrong(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for what, c := range map[string]struct {
			work  func(u *upload)
			title string
		}{
			"a refusal":       {func(u *upload) { u.fail(app.Refuse("import-empty"), "") }, "No file was chosen."},
			"no database":     {func(u *upload) { u.fail(errors.New("gone"), "Look again.") }, "did not answer to the end"},
			"a fault of ours": {func(*upload) { panic("a slip") }, "did not answer to the end"},
		} {
			u := &upload{}
			u.begin(reading, "")
			if u.begin(storing, ready) {
				t.Errorf("%s: it is stored while it is read", what)
			}
			u.beside(t.Context(), "read", func(context.Context) { c.work(u) })
			u.settled(t.Context(), time.Hour)
			if v := u.look(); v.State != failed || !strings.Contains(v.Said.Title, c.title) || v.Said.Remedy == "" {
				t.Errorf("%s: %s, %+v", what, v.State, v.Said)
			}
			u.end(stored, func() { t.Errorf("%s: it ends twice", what) })
			if !u.begin(reading, "", ready, failed) {
				t.Errorf("%s: it can't be looked at again", what)
			}
			u.end(ready, func() {})
		}
	})
}

func TestEveryFileIsDescribed(t *testing.T) {
	for _, name := range intake.FileNames() {
		if holds[name].what == "" || len(intake.Columns(name)) == 0 {
			t.Errorf("nothing is said of %s", name)
		}
	}
	if len(holds) != len(intake.FileNames()) {
		t.Error("a file is described that there is none of")
	}
}

func TestSummaries(t *testing.T) {
	file := func(counts map[intake.Verdict]int) []intake.FileChange {
		return []intake.FileChange{{File: "orders.csv", Counts: counts, Changes: make([]intake.LineChange, counts[intake.New]+counts[intake.Changed]+counts[intake.Gone])}}
	}
	line, whole := intake.Fault{File: "orders.csv", Line: 3}, intake.Fault{File: "x.xlsx"}
	for want, p := range map[string]app.ImportPlan{
		"1 line is new. Nothing is stored yet.":                                                                       {Files: file(map[intake.Verdict]int{intake.New: 1})},
		"12\u202f000 lines are changed, 1 is taken out and 2 are the same. Nothing is stored yet.":                    {Files: file(map[intake.Verdict]int{intake.Changed: 12000, intake.Gone: 1, intake.Same: 2})},
		"The shop has all of it already: there is nothing to store.":                                                  {Files: file(map[intake.Verdict]int{intake.Same: 9})},
		"1 line is wrong, so nothing can be stored. Put right what is wrong and choose the files again.":              {Files: file(map[intake.Verdict]int{intake.Refused: 1}), Faults: []intake.Fault{line}},
		"1 file and 2 lines are wrong, so nothing can be stored. Put right what is wrong and choose the files again.": {Files: file(map[intake.Verdict]int{intake.Refused: 2}), Faults: []intake.Fault{whole, line}},
	} {
		if got := summary(view{Plan: p}); got != want {
			t.Errorf("got  %q\nwant %q", got, want)
		}
	}
	for n, want := range map[int]string{1: "1 byte", 812: "812 bytes", 1 << 10: "1 KiB", 1<<20 - 1: "1023 KiB", 3 << 19: "1.5 MiB"} {
		if got := size(n); got != want {
			t.Errorf("size of %d is %q, want %q", n, got, want)
		}
	}
}
