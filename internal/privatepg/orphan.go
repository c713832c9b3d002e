package privatepg

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// serverFile is what a running server says of itself in postmaster.pid.
type serverFile struct {
	pid    int
	status string // the 8th line: starting, ready, stopping, standby
}

func readServerFile(data string) (serverFile, bool) {
	text, err := os.ReadFile(filepath.Join(data, "postmaster.pid"))
	if err != nil {
		return serverFile{}, false
	}
	lines := strings.Split(string(text), "\n")
	pid, err := strconv.Atoi(strings.TrimSpace(lines[0]))
	if err != nil || pid <= 0 {
		return serverFile{}, false
	}
	sf := serverFile{pid: pid}
	if len(lines) > 7 {
		sf.status = strings.TrimSpace(lines[7])
	}
	return sf, true
}

// Patience with processes left behind, in the order in which they are asked to go.
const (
	fastShutdown = 60 * time.Second // SIGINT: connections are ended, everything is written down
	selfExit     = 5 * time.Second  // children of a killed server notice by themselves
	quitShutdown = 10 * time.Second // SIGQUIT: leave at once; the next start recovers
)

// clearOrphans stops every PostgreSQL process still at work on the data folder: the server of a killed Tagalong,
// or the children of a killed server. The caller holds the folder's lock, so none of them has a living owner.
func clearOrphans(ctx context.Context, f folder, out io.Writer) error {
	left := processesOn(f.data)
	sf, found := readServerFile(f.data)
	switch {
	case found && slices.Contains(left, sf.pid):
		fmt.Fprintf(out, "A PostgreSQL (process %d) left behind by a Tagalong that was killed still runs on %s; stopping it cleanly.\n", sf.pid, f.data)
		signalAll([]int{sf.pid}, syscall.SIGINT)
		left = waitGone(ctx, f.data, fastShutdown)
	case len(left) > 0:
		left = waitGone(ctx, f.data, selfExit)
	}
	for _, sig := range []syscall.Signal{syscall.SIGQUIT, syscall.SIGKILL} {
		if len(left) > 0 && ctx.Err() == nil {
			signalAll(left, sig)
			left = waitGone(ctx, f.data, quitShutdown)
		}
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	if len(left) > 0 {
		return fmt.Errorf("a PostgreSQL left behind by a Tagalong that was killed still runs on %s and doesn't stop (processes %v). "+
			"Its data is kept. Stop it, then start again", f.data, left)
	}
	return dropStaleLocks(f, found, sf.pid)
}

// dropStaleLocks removes the lock files of a dead server when its process number now belongs to another program
// (usual after a reboot). PostgreSQL would take that program for a server and refuse to start.
func dropStaleLocks(f folder, found bool, pid int) error {
	if !seesAllProcesses {
		return nil
	}
	if found && syscall.Kill(pid, 0) != syscall.ESRCH {
		if err := removeIfThere(filepath.Join(f.data, "postmaster.pid")); err != nil {
			return err
		}
	}
	return removeIfThere(filepath.Join(f.socket, socketName+".lock"))
}

func removeIfThere(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	return nil
}

func signalAll(pids []int, sig syscall.Signal) {
	for _, pid := range pids {
		// One that ended meanwhile is what we want.
		_ = syscall.Kill(pid, sig)
	}
}

// waitGone returns the processes still there after the given time.
func waitGone(ctx context.Context, data string, atMost time.Duration) []int {
	end := time.Now().Add(atMost)
	for {
		left := processesOn(data)
		if len(left) == 0 || time.Now().After(end) {
			return left
		}
		select {
		case <-ctx.Done():
			return left
		case <-time.After(50 * time.Millisecond):
		}
	}
}
