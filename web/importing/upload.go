package importing

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/intake"
	"tagalong/internal/words"
)

// state is how far an import has come.
type state string

const (
	sending state = "sending" // still on its way
	reading state = "reading" // being read and compared with the shop
	ready   state = "ready"   // read: shown as what it would change
	storing state = "storing" // being stored, all or nothing
	stored  state = "stored"
	failed  state = "failed" // the database did not answer, or a rule of the shop said no
)

// workWithin is how long reading or storing may take.
const workWithin = 5 * time.Minute

// upload is the files of one import and what has come of them.
type upload struct {
	id     string
	owner  owner
	folder string
	files  []sentFile
	size   int // bytes, or what it may come to while it is sent
	at     time.Time
	timer  *time.Timer

	mu    sync.Mutex
	state state
	since time.Time
	done  chan struct{} // closed when what is being done is done
	plan  app.ImportPlan
	moved bool // the shop changed between the plan and the word to store it
	got   app.Imported
	said  words.Text // of what failed
	lines int        // to be stored
}

// view is an upload as a page shows it.
type view struct {
	ID    string
	State state
	For   time.Duration // it has been in this state
	Files []sentFile
	Size  int
	Plan  app.ImportPlan
	Moved bool
	Got   app.Imported
	Said  words.Text
	Lines int
}

func (u *upload) look() view {
	u.mu.Lock()
	defer u.mu.Unlock()
	return view{u.id, u.state, time.Since(u.since), u.files, u.size, u.plan, u.moved, u.got, u.said, u.lines}
}

func (u *upload) busy() bool {
	u.mu.Lock()
	defer u.mu.Unlock()
	return u.state == sending || u.state == reading || u.state == storing
}

func (u *upload) is(x state) bool {
	u.mu.Lock()
	defer u.mu.Unlock()
	return u.state == x
}

// settled waits until nothing is being done, no longer than d.
func (u *upload) settled(ctx context.Context, d time.Duration) {
	u.mu.Lock()
	done := u.done
	u.mu.Unlock()
	wait, cancel := context.WithTimeout(ctx, d)
	defer cancel()
	select {
	case <-done:
	case <-wait.Done():
	}
}

// begin moves on to a state in which something is being done, unless something
// is, or may not be from where it stands.
func (u *upload) begin(next state, from ...state) bool {
	u.mu.Lock()
	defer u.mu.Unlock()
	for _, s := range from {
		if u.state == s {
			u.state, u.since, u.done = next, time.Now(), make(chan struct{})
			return true
		}
	}
	return false
}

// end says what came of what was being done.
func (u *upload) end(s state, say func()) {
	u.mu.Lock()
	defer u.mu.Unlock()
	if u.state != reading && u.state != storing {
		return // it has been said already
	}
	u.state, u.since = s, time.Now()
	say()
	close(u.done)
}

// read finds out, beside the request, what the files would change.
func (u *upload) read(ctx context.Context, s *app.Service, by app.Caller) {
	if !u.begin(reading, "", ready, failed) {
		return
	}
	u.beside(ctx, "read", func(ctx context.Context) {
		files, err := u.load()
		var plan app.ImportPlan
		if err == nil {
			plan, err = s.PlanImport(ctx, by, files)
		}
		if err != nil {
			u.fail(err, "No word of it was stored.")
			return
		}
		u.end(ready, func() {
			u.plan = plan
			u.lines = plan.Count(intake.New) + plan.Count(intake.Changed) + plan.Count(intake.Gone)
		})
	})
}

// store stores, beside the request, what was shown, if it is still just that.
func (u *upload) store(ctx context.Context, s *app.Service, by app.Caller) {
	if seen := u.look(); len(seen.Plan.Faults) > 0 || !u.begin(storing, ready) {
		return
	}
	u.beside(ctx, "store", func(ctx context.Context) {
		files, err := u.load()
		if err != nil {
			u.fail(err, "Nothing was stored.")
			return
		}
		got, now, err := s.ImportFiles(ctx, by, files, u.look().Plan)
		switch {
		case errors.Is(err, app.ErrPlanMoved):
			u.end(ready, func() { u.plan, u.moved = now, true })
		case err != nil:
			u.fail(err, "Either all of it was stored or nothing. Look again: what is stored already is shown as the same.")
		default:
			u.end(stored, func() { u.got = got })
		}
	})
}

// beside does work that outlives the request it was asked for in. A fault of
// ours ends the import, not the server.
func (u *upload) beside(ctx context.Context, what string, work func(context.Context)) {
	go func() {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), workWithin)
		defer cancel()
		defer func() {
			if p := recover(); p != nil {
				u.fail(fmt.Errorf("%s an import: %v", what, p), "Either all of it was stored or nothing. Look again: what is stored already is shown as the same.")
			}
		}()
		work(ctx)
	}()
}

// fail tells why it went no further: a rule of the shop in its own words, all
// else as what it means for the person.
func (u *upload) fail(err error, then string) {
	said := words.Text{Title: "The server or its database did not answer to the end.", Remedy: then}
	if refused, ok := errors.AsType[*app.Refused](err); ok {
		said = words.Refusal(refused.Refusal.Code, refused.Refusal.Params)
		said.Remedy = "Nothing was stored. " + said.Remedy
		if line, ok := errors.AsType[*app.ImportRefused](err); ok {
			said.Title = "About " + line.Of + ": " + said.Title
		}
	} else {
		slog.Error("an import went no further", "error", err)
	}
	u.end(failed, func() { u.said = said })
}
