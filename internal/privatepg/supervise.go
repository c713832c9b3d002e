package privatepg

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"time"
)

// maxFailures is how often in a row the server may die before it answers, once it did answer in the past.
const maxFailures = 10

// supervise runs the server and starts it again when it dies, until it is told to stop. It reports on started once:
// nil when the server answers, or why it never will.
func (s *Server) supervise(started chan<- error) {
	// The system stops the server when this thread ends, see childAttributes.
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	defer close(s.done)
	defer s.release()

	everReady := false
	for failures := 0; ; {
		ready, err := s.runOnce(func() {
			if !everReady {
				everReady = true
				started <- nil
			}
		})
		if s.isStopping() {
			s.err = err
			break
		}
		failures++
		if ready {
			failures = 0
		}
		if !everReady || failures >= maxFailures {
			s.err = err
			break
		}
		fmt.Fprintf(s.out, "PostgreSQL stopped by itself (%v); starting it again.\n", firstLine(err))
		s.pause(min(5*time.Second, 50*time.Millisecond<<failures))
		if err := clearOrphans(context.Background(), s.folder, s.out); err != nil {
			s.err = err
			break
		}
	}
	if !everReady {
		if s.err == nil {
			s.err = errors.New("PostgreSQL was stopped before it answered. Its data is kept")
		}
		started <- s.err
	}
}

// runOnce runs the server until it ends. It calls onReady once the server takes connections, and tells whether it did.
// A clean stop that was asked for is no error.
func (s *Server) runOnce(onReady func()) (ready bool, err error) {
	log, err := s.openLog()
	if err != nil {
		return false, err
	}
	defer log.Close()
	info, err := log.Stat()
	if err != nil {
		return false, err
	}
	cmd := exec.Command(s.programs.Postgres(), s.arguments()...)
	cmd.Dir = s.folder.socket
	cmd.Env = cleanEnvironment(os.Environ())
	cmd.Stdout, cmd.Stderr = log, log
	cmd.SysProcAttr = childAttributes(s.account, syscall.SIGINT)

	s.mu.Lock()
	if s.stopping {
		s.mu.Unlock()
		return false, nil
	}
	if err := cmd.Start(); err != nil {
		s.mu.Unlock()
		return false, fmt.Errorf("PostgreSQL can't be started: %w", err)
	}
	s.process = cmd.Process
	s.mu.Unlock()
	s.pid.Store(int64(cmd.Process.Pid))

	ended := make(chan struct{})
	wasReady := make(chan bool)
	go func() { wasReady <- s.awaitReady(cmd.Process.Pid, ended, onReady) }()
	err = cmd.Wait()
	s.pid.Store(0)
	close(ended)
	ready = <-wasReady
	if err == nil && s.isStopping() {
		return ready, nil
	}
	if err == nil {
		err = errors.New("it was told to stop by somebody else")
	}
	return ready, fmt.Errorf("PostgreSQL on %s ended: %w. Its data is kept. It said:\n%s", s.folder.root, err, s.logTail(info.Size()))
}

// awaitReady watches the server's own file for the word that it takes connections.
func (s *Server) awaitReady(pid int, ended <-chan struct{}, onReady func()) bool {
	next := time.Now().Add(10 * time.Second)
	for {
		if sf, ok := readServerFile(s.folder.data); ok && sf.pid == pid && sf.status == "ready" {
			onReady()
			return true
		}
		if time.Now().After(next) {
			fmt.Fprintln(s.out, "PostgreSQL is still starting: after a power cut or a kill it first puts its data in order.")
			next = time.Now().Add(10 * time.Second)
		}
		select {
		case <-ended:
			return false
		case <-time.After(10 * time.Millisecond):
		}
	}
}

// arguments are the server's settings. Ours on where it listens come last, so that they win.
func (s *Server) arguments() []string {
	settings := map[string]string{
		"max_connections": "100",
		"timezone":        "UTC",
		"log_timezone":    "UTC",
		// A failed statement isn't written down: it may hold what nobody should read in a log.
		"log_min_error_statement": "panic",
		"log_error_verbosity":     "terse",
		"log_checkpoints":         "off",
	}
	if s.options.NoSync {
		maps.Copy(settings, map[string]string{"fsync": "off", "synchronous_commit": "off", "full_page_writes": "off"})
	}
	maps.Copy(settings, s.options.Settings)
	maps.Copy(settings, map[string]string{
		"listen_addresses":        "",
		"port":                    "5432",
		"unix_socket_directories": s.folder.socket,
		"unix_socket_permissions": "0700",
	})
	args := []string{"-D", s.folder.data}
	for _, name := range slices.Sorted(maps.Keys(settings)) {
		args = append(args, "-c", name+"="+settings[name])
	}
	return args
}

// Stop stops the server cleanly: connections are ended, everything is written down. When ctx ends first it is made
// to leave at once; its data is safe, but the next start must recover. It returns when the server has gone.
func (s *Server) Stop(ctx context.Context) error {
	s.beginStop()
	select {
	case <-s.done:
		return s.err
	case <-ctx.Done():
	}
	for _, sig := range []syscall.Signal{syscall.SIGQUIT, syscall.SIGKILL} {
		s.signal(sig)
		select {
		case <-s.done:
			return fmt.Errorf("PostgreSQL didn't stop in time and was made to (%s): %w. Its data is kept", sig, context.Cause(ctx))
		case <-time.After(quitShutdown):
		}
	}
	return fmt.Errorf("PostgreSQL (process %d) doesn't stop. Its data is kept. Restart the machine, then start Tagalong again", s.Pid())
}

func (s *Server) beginStop() {
	s.mu.Lock()
	first := !s.stopping
	s.stopping = true
	s.mu.Unlock()
	if first {
		s.signal(syscall.SIGINT) // "fast shutdown"
	}
}

func (s *Server) signal(sig syscall.Signal) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.process != nil {
		// The only error is that it has ended, which is what we want.
		_ = s.process.Signal(sig)
	}
}

func (s *Server) isStopping() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.stopping
}

// pause waits, but no longer than until it is told to stop.
func (s *Server) pause(d time.Duration) {
	for end := time.Now().Add(d); time.Now().Before(end) && !s.isStopping(); {
		time.Sleep(10 * time.Millisecond)
	}
}

// release lets go of the folder. A socket folder outside of it goes too; it stays if anything is left in it.
func (s *Server) release() {
	if filepath.Dir(s.folder.socket) != s.folder.root {
		_ = os.Remove(s.folder.socket)
	}
	s.lock.Close()
}

func firstLine(err error) string {
	line, _, _ := strings.Cut(fmt.Sprint(err), "\n")
	return line
}

// checkReach tries for real whether the account can enter the folder (or what exists on the way to it) and run PostgreSQL.
func (a account) checkReach(ctx context.Context, dir string, p Programs) error {
	if !a.drop {
		return nil
	}
	existing := filepath.Dir(dir)
	for existing != filepath.Dir(existing) {
		if _, err := os.Stat(existing); err == nil {
			break
		}
		existing = filepath.Dir(existing)
	}
	cmd := exec.CommandContext(ctx, p.Postgres(), "--version")
	cmd.Dir = existing
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: a.credential()}
	err := cmd.Run()
	if errors.Is(err, syscall.EACCES) {
		blocked := a.blockedBy(existing)
		if blocked == "" {
			blocked = a.blockedBy(p.Dir)
		}
		if blocked == "" {
			blocked = existing
		}
		return &UnreachableError{Account: a.name, Folder: blocked, Data: dir}
	}
	return err
}
