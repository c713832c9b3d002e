package importing

import (
	"crypto/rand"
	"encoding/hex"
	"sync"
	"time"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// What is kept of files that were sent: in memory, until they are stored or
// thrown away, and no longer than this. A server started anew has none.
const (
	keptFor   = 30 * time.Minute
	keptBytes = 96 << 20 // of everybody's; the oldest make room
	maxUpload = 32 << 20 // of one import
	maxFiles  = 40
)

// owner is who may see an upload: one person in one sign-in.
type owner struct {
	person  core.PersonID
	session [32]byte // hash of its token
}

// shelf keeps uploads under names nobody guesses.
type shelf struct {
	mu   sync.Mutex
	kept map[string]*upload
	life time.Duration
	room int
}

func newShelf() *shelf { return &shelf{kept: map[string]*upload{}, life: keptFor, room: keptBytes} }

// put keeps files. What the same sign-in sent before makes room, unless it is
// being stored; then, where there still is none, the oldest of others do.
func (s *shelf) put(by owner, files []intake.File) *upload {
	var id [16]byte
	_, _ = rand.Read(id[:]) // never fails (Go 1.24)
	u := &upload{id: hex.EncodeToString(id[:]), owner: by, files: files, at: time.Now()}
	for _, f := range files {
		u.size += len(f.Data)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	used := u.size
	for _, old := range s.kept {
		if old.owner == by && !old.busy() {
			s.drop(old)
			continue
		}
		used += old.size
	}
	for used > s.room {
		oldest := s.oldest()
		if oldest == nil {
			break
		}
		used -= oldest.size
		s.drop(oldest)
	}
	s.kept[u.id] = u
	u.timer = time.AfterFunc(s.life, func() {
		s.mu.Lock()
		defer s.mu.Unlock()
		s.drop(u)
	})
	return u
}

// oldest is the upload kept longest that nothing is being done with.
func (s *shelf) oldest() *upload {
	var out *upload
	for _, u := range s.kept {
		if !u.busy() && (out == nil || u.at.Before(out.at)) {
			out = u
		}
	}
	return out
}

// drop forgets an upload; s.mu is held.
func (s *shelf) drop(u *upload) {
	u.timer.Stop()
	delete(s.kept, u.id)
}

// get finds an upload of the same sign-in.
func (s *shelf) get(by owner, id string) (*upload, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	u, ok := s.kept[id]
	if !ok || u.owner != by {
		return nil, false
	}
	return u, true
}

// discard throws an upload away.
func (s *shelf) discard(u *upload) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.drop(u)
}
