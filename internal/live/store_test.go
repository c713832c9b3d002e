package live_test

import (
	"context"
	"fmt"
	"strconv"
	"sync"
	"testing"
	"time"

	"tagalong/internal/core"
	"tagalong/internal/live"
	"tagalong/internal/postgres"
	"tagalong/internal/postgres/pgtest"
)

func TestMain(m *testing.M) { pgtest.Main(m) }

// opening opens an empty pallet.
type opening struct{}

func (opening) Kind() string      { return "open" }
func (opening) Names() core.Names { return core.Names{} }

func open(t testing.TB, s *postgres.Store, id string) int64 {
	t.Helper()
	c := core.Command{ID: core.CommandID(id), Body: opening{}}
	a, err := s.Execute(t.Context(), c, [32]byte{1}, func(w core.World) core.Outcome {
		return core.Outcome{Events: []core.Event{{ID: core.EventID(id + ".1"), Kind: core.EvPrinted, V: 1, Happened: w.Now,
			Effects: []core.Effect{{PalletPut: &core.PalletRow{Code: w.Fresh[0], Kind: core.PalletCarrier}}}}}}
	})
	if err != nil {
		t.Fatal(err)
	}
	return a.Events[0].Seq
}

// From a commit on one server to two hundred watchers of another on the same
// database it takes under a second, and every watcher ends at the last event.
func TestFromCommitToEveryWatcher(t *testing.T) {
	address := pgtest.URL(t)
	writer, err := postgres.Open(t.Context(), address, postgres.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(writer.Close)
	reader, err := postgres.Open(t.Context(), address, postgres.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(reader.Close)
	ctx, cancel := context.WithCancel(t.Context())
	hub := live.Start(ctx, reader, live.Options{})
	defer hub.Wait()
	defer cancel()
	feed := hub.Feed(func(ctx context.Context) ([]byte, error) {
		w, err := reader.Wall(ctx)
		return fmt.Append(nil, w.Seq), err
	}, nil)

	const watchers, commits = 200, 10
	var mu sync.Mutex
	committed := map[int64]time.Time{}
	var slowest time.Duration
	var all sync.WaitGroup
	first := open(t, writer, "first")
	last := first + commits
	for range watchers {
		watch := feed.Watch(ctx)
		all.Go(func() {
			for {
				select {
				case b, ok := <-watch:
					seq, err := strconv.ParseInt(string(b), 10, 64)
					if !ok || err != nil {
						t.Errorf("the watch ended, or gave %q", b)
						return
					}
					mu.Lock()
					if at, known := committed[seq]; known {
						slowest = max(slowest, time.Since(at))
					}
					mu.Unlock()
					if seq == last {
						return
					}
				case <-time.After(20 * time.Second):
					t.Error("a watcher never saw the last event")
					return
				}
			}
		})
	}
	for i := range commits {
		time.Sleep(200 * time.Millisecond)
		seq := open(t, writer, fmt.Sprintf("open-%d", i))
		mu.Lock()
		committed[seq] = time.Now()
		mu.Unlock()
	}
	all.Wait()
	if slowest > time.Second {
		t.Errorf("the slowest took %v from commit to watcher", slowest)
	}
	t.Logf("slowest of %d watchers and %d commits: %v", watchers, commits, slowest)
}
