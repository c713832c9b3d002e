package importing

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"os"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/intake"
)

func by(person string) owner { return owner{person: core.PersonID(person)} }

// put keeps an upload of so many bytes, as a request does.
func put(t *testing.T, s *shelf, by owner, n int) *upload {
	t.Helper()
	u, err := s.open(by, n)
	if err != nil {
		t.Fatal(err)
	}
	if err := u.add("orders.csv", bytes.NewReader(make([]byte, n)), n); err != nil {
		t.Fatal(err)
	}
	s.sent(u)
	return u
}

func code(err error) string {
	if refused, ok := errors.AsType[*app.Refused](err); ok {
		return refused.Refusal.Code
	}
	return ""
}

func here(s *shelf, u *upload) bool {
	_, err := s.get(u.owner, u.id)
	return err == nil
}

// folders counts the uploads that lie in the shelf's folder.
func folders(t *testing.T, dir string) int {
	t.Helper()
	all, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	return len(all)
}

// TestShelf: an upload is there for whoever sent it, for its time; there is
// room for so many and so much, and whoever comes too late takes nobody's.
func TestShelf(t *testing.T) {
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		s := newShelf(func() string { return dir })
		s.room, s.most = 100, 3
		a := put(t, s, by("a"), 40)
		if _, err := s.get(by("b"), a.id); code(err) != "import-gone" {
			t.Errorf("another is told %v", err)
		}
		if _, err := s.get(owner{person: "a", session: [32]byte{1}}, a.id); err == nil {
			t.Error("another sign-in of the same person has it")
		}
		if got, err := a.load(); err != nil || len(got) != 1 || got[0].Name != "orders.csv" || len(got[0].Data) != 40 {
			t.Errorf("read back it is %v, %v", got, err)
		}
		time.Sleep(time.Minute)
		b := put(t, s, by("b"), 40)
		if _, err := s.open(by("c"), 50); code(err) != "import-crowded" {
			t.Errorf("without room a third is told %v", err)
		}
		c := put(t, s, by("c"), 5)
		if _, err := s.open(by("d"), 1); code(err) != "import-crowded" {
			t.Errorf("a fourth of three is told %v", err)
		}
		if !here(s, a) || !here(s, b) || !here(s, c) || folders(t, dir) != 3 {
			t.Errorf("whoever came too late took somebody's: a %v, b %v, c %v", here(s, a), here(s, b), here(s, c))
		}
		b.begin(storing, "")
		if _, err := s.open(by("b"), 5); code(err) != "import-crowded" || !here(s, b) {
			t.Errorf("while b is stored it is let go: %v", err)
		}
		b.end(stored, func() {})
		b2 := put(t, s, by("b"), 30)
		if here(s, b) || !here(s, b2) || folders(t, dir) != 3 {
			t.Error("a newer upload does not take the place of the one before")
		}
		c.begin(storing, "")
		c.end(stored, func() {})
		if d := put(t, s, by("d"), 5); here(s, c) || !here(s, d) {
			t.Error("what is stored already makes no room")
		} else {
			s.discard(d)
		}
		time.Sleep(keptFor - 2*time.Minute)
		if here(s, a) != true || here(s, c) || folders(t, dir) != 2 {
			t.Errorf("there are a %v, c %v", here(s, a), here(s, c))
		}
		time.Sleep(3 * time.Minute)
		synctest.Wait()
		if _, err := s.get(a.owner, a.id); code(err) != "import-expired" || folders(t, dir) != 0 {
			t.Errorf("after its time: %v, and %d folders are left", err, folders(t, dir))
		}
		if _, err := s.get(by("b"), a.id); code(err) != "import-gone" {
			t.Errorf("another is told of it: %v", err)
		}
		put(t, s, by("e"), 10)
		if err := ClearUploads(dir); err != nil || len(s.kept) != 1 {
			t.Error(err)
		}
		if _, err := os.Stat(dir); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("at the next start the folder is still there: %v", err)
		}
		for _, u := range s.kept {
			if _, err := u.load(); code(err) != "import-gone" {
				t.Errorf("files that are gone are read as %v", err)
			}
			s.discard(u)
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
