package importing

import (
	"cmp"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// How long, how many and how much is kept of what was sent, in a folder of the
// server's: files are in memory only while they are read.
const (
	keptFor     = 30 * time.Minute
	mostUploads = 12       // of everybody's
	keptBytes   = 96 << 20 // of everybody's
	maxUpload   = 32 << 20 // of one import
	maxFiles    = 40
	mostExpired = 200 // are told from those that never were
)

// owner is who sent an upload: it is looked at by the same person from the same
// sign-in, and by nobody else.
type owner struct {
	person  core.PersonID
	session [32]byte // hash of its token
}

// shelf keeps what was sent until it is stored, thrown away or forgotten.
type shelf struct {
	folder func() string // where the files lie

	mu      sync.Mutex
	kept    map[string]*upload
	expired map[string]owner
	life    time.Duration
	room    int
	most    int
}

func newShelf(folder func() string) *shelf {
	return &shelf{folder: folder, kept: map[string]*upload{}, expired: map[string]owner{}, life: keptFor, room: keptBytes, most: mostUploads}
}

// ClearUploads removes what a server that has stopped had kept of uploads.
func ClearUploads(folder string) error {
	if err := os.RemoveAll(folder); err != nil {
		return fmt.Errorf("clear the folder of uploads: %w", err)
	}
	return nil
}

// sentFile is one file of an upload, in the server's folder.
type sentFile struct {
	Name string
	Size int
	path string
}

// open makes room for an upload of so many bytes at most and a folder for its
// files. The one before from the same sign-in goes, and where there is no room
// those that are stored already. Nobody else's does: the newcomer waits.
func (s *shelf) open(by owner, most int) (*upload, error) {
	var id [16]byte
	_, _ = rand.Read(id[:]) // never fails (Go 1.24)
	u := &upload{id: hex.EncodeToString(id[:]), owner: by, size: most, at: time.Now(), state: sending}
	s.mu.Lock()
	defer s.mu.Unlock()
	used, n := u.size, 1
	for _, old := range s.kept {
		if old.owner == by && !old.busy() {
			s.drop(old)
			continue
		}
		used, n = used+old.size, n+1
	}
	for old := s.oldestStored(); old != nil && (used > s.room || n > s.most); old = s.oldestStored() {
		s.drop(old)
		used, n = used-old.size, n-1
	}
	if used > s.room || n > s.most {
		return nil, app.Refuse("import-crowded", "most", strconv.Itoa(int(s.life/time.Minute)))
	}
	u.folder = filepath.Join(s.folder(), u.id)
	if err := os.MkdirAll(u.folder, 0o700); err != nil {
		return nil, fmt.Errorf("keep an upload: %w", err)
	}
	s.kept[u.id] = u
	u.timer = time.AfterFunc(s.life, func() { s.expire(u) })
	return u, nil
}

// oldestStored is the first sent of those that are stored; the lock is held.
func (s *shelf) oldestStored() *upload {
	var out *upload
	for _, u := range s.kept {
		if u.is(stored) && (out == nil || u.at.Before(out.at)) {
			out = u
		}
	}
	return out
}

// add writes one file of an upload into its folder, at most so many bytes of it.
func (u *upload) add(name string, from io.Reader, most int) (err error) {
	x := sentFile{Name: name, path: filepath.Join(u.folder, strconv.Itoa(len(u.files)))}
	f, err := os.OpenFile(x.path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return fmt.Errorf("keep an upload: %w", err)
	}
	n, err := io.Copy(f, io.LimitReader(from, int64(most)+1))
	if closed := f.Close(); err == nil && closed != nil {
		return fmt.Errorf("keep an upload: %w", closed)
	}
	x.Size = int(n)
	u.files = append(u.files, x)
	return err
}

// sent says that an upload has come whole: it takes the room it needs.
func (s *shelf) sent(u *upload) {
	s.mu.Lock()
	defer s.mu.Unlock()
	u.size = 0
	for _, f := range u.files {
		u.size += f.Size
	}
	u.mu.Lock()
	defer u.mu.Unlock()
	u.state = ""
}

// load reads an upload's files into memory, for as long as they are needed.
func (u *upload) load() ([]intake.File, error) {
	var out []intake.File
	for _, f := range u.files {
		data, err := os.ReadFile(f.path)
		if errors.Is(err, fs.ErrNotExist) {
			return nil, app.Refuse("import-gone")
		}
		if err != nil {
			return nil, fmt.Errorf("read an upload: %w", err)
		}
		out = append(out, intake.File{Name: f.Name, Data: data})
	}
	return out, nil
}

// expire drops an upload whose time is over, once nothing is being done with it.
func (s *shelf) expire(u *upload) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if u.busy() {
		u.timer.Reset(time.Minute)
		return
	}
	if len(s.expired) >= mostExpired {
		clear(s.expired)
	}
	s.expired[u.id] = u.owner
	s.drop(u)
}

// drop lets an upload go, and its files; the lock is held.
func (s *shelf) drop(u *upload) {
	u.timer.Stop()
	delete(s.kept, u.id)
	_ = os.RemoveAll(u.folder) // what stays behind goes at the next start
}

// get finds an upload of the same person and sign-in.
func (s *shelf) get(by owner, id string) (*upload, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if u, ok := s.kept[id]; ok && u.owner == by && !u.is(sending) {
		return u, nil
	}
	if was, ok := s.expired[id]; ok && was == by {
		return nil, app.Refuse("import-expired", "most", strconv.Itoa(int(cmp.Or(s.life, keptFor)/time.Minute)))
	}
	return nil, app.Refuse("import-gone")
}

func (s *shelf) discard(u *upload) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.drop(u)
}
