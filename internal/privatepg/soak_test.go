package privatepg

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"
)

// soakKills returns how often to kill: a few times in an ordinary test, more with `make soak`.
func soakKills(t *testing.T) int {
	t.Helper()
	text := os.Getenv("TAGALONG_SOAK_KILLS")
	if text == "" {
		return 3
	}
	kills, err := strconv.Atoi(text)
	if err != nil || kills < 1 {
		t.Fatalf("TAGALONG_SOAK_KILLS is %q, not a count of kills", text)
	}
	return kills
}

// TestSoakKillsOfTheDatabase kills the database over and over while writers write. Each writer sends every number
// until it is acknowledged; at the end each is there exactly once.
func TestSoakKillsOfTheDatabase(t *testing.T) {
	kills := soakKills(t)
	s, _ := start(t, newDir(t))
	execute(t, s.SuperURL(), "CREATE TABLE written (writer int, n int, PRIMARY KEY (writer, n))")
	pool, err := pgxpool.New(t.Context(), s.SuperURL())
	if err != nil {
		t.Fatal(err)
	}
	defer pool.Close()

	const writers = 4
	var stop atomic.Bool
	var acknowledged [writers]atomic.Int64
	var retries atomic.Int64
	var running sync.WaitGroup
	for w := range writers {
		running.Go(func() {
			for n := 1; !stop.Load(); n++ {
				for write(pool, w, n) != nil {
					retries.Add(1)
					time.Sleep(5 * time.Millisecond)
				}
				acknowledged[w].Store(int64(n))
			}
		})
	}
	total := func() (sum int64) {
		for w := range writers {
			sum += acknowledged[w].Load()
		}
		return sum
	}
	for range kills {
		before := total()
		eventually(t, "the writers go on", func() bool { return total() >= before+50 })
		time.Sleep(time.Duration(rand.IntN(100)) * time.Millisecond)
		pid := s.Pid()
		if pid == 0 {
			t.Fatal("there is no server though the writers just wrote")
		}
		if err := syscall.Kill(pid, syscall.SIGKILL); err != nil {
			t.Fatal(err)
		}
		eventually(t, "the server is back", func() bool { now := s.Pid(); return now != 0 && now != pid })
	}
	stop.Store(true)
	running.Wait()

	for w := range writers {
		want := acknowledged[w].Load()
		got := query[string](t, s.SuperURL(), fmt.Sprintf("SELECT count(*) || ' ' || coalesce(max(n), 0) FROM written WHERE writer = %d", w))
		if got != fmt.Sprintf("%d %d", want, want) {
			t.Errorf("writer %d: count and greatest are %s, want both %d", w, got, want)
		}
	}
	t.Logf("%d kills, %d acknowledged writes, %d sent again", kills, total(), retries.Load())
}

// write stores a number once, however often it is sent.
func write(pool *pgxpool.Pool, writer, n int) error {
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	_, err := pool.Exec(ctx, "INSERT INTO written VALUES ($1, $2) ON CONFLICT DO NOTHING", writer, n)
	return err
}
