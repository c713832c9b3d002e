package privatepg

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// ownServer is what a child process of TestKilledOwner does: own a server until killed.
func ownServer(dir string) {
	s, err := Start(context.Background(), Options{Dir: dir, Out: os.Stderr})
	if err != nil {
		fmt.Println("error", err)
		os.Exit(1)
	}
	if err := s.EnsureRoles(context.Background(), "tagalong"); err != nil {
		fmt.Println("error", err)
		os.Exit(1)
	}
	fmt.Println(s.Pid())
	<-s.Done()
	os.Exit(0)
}

func TestKilledServerComesBackWithItsData(t *testing.T) {
	s, out := start(t, newDir(t))
	execute(t, s.SuperURL(), "CREATE TABLE kept (n int)", "INSERT INTO kept VALUES (7)")
	pid := s.Pid()
	if err := syscall.Kill(pid, syscall.SIGKILL); err != nil {
		t.Fatal(err)
	}
	eventually(t, "another server runs", func() bool { return s.Pid() != 0 && s.Pid() != pid })
	eventually(t, "it answers", func() bool { return ping(t.Context(), s.SuperURL()) == nil })
	if got := query[int](t, s.SuperURL(), "SELECT n FROM kept"); got != 7 {
		t.Errorf("after the kill: %d, want 7", got)
	}
	if !strings.Contains(out.String(), "starting it again") {
		t.Errorf("progress: %q", out)
	}
}

// launchOwner starts another process that owns the server on the folder, and returns it and the server's number.
func launchOwner(t *testing.T, dir string) (owner *exec.Cmd, server int) {
	t.Helper()
	owner = exec.Command(os.Args[0])
	owner.Env = append(os.Environ(), "TAGALONG_TEST_OWNER_OF="+dir)
	owner.Stderr = os.Stderr
	pipe, err := owner.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := owner.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = owner.Process.Kill() // most tests have done so
		_ = owner.Wait()
	})
	line, err := bufio.NewReader(pipe).ReadString('\n')
	server, errNumber := strconv.Atoi(strings.TrimSpace(line))
	if err != nil || errNumber != nil {
		t.Fatalf("the owner said %q, %v", line, err)
	}
	return owner, server
}

func TestKilledOwner(t *testing.T) {
	dir := newDir(t)
	owner, pid := launchOwner(t, dir)
	address, err := URL(dir, "postgres", superuser)
	if err != nil {
		t.Fatal(err)
	}
	execute(t, address, "CREATE TABLE kept (n int)", "INSERT INTO kept VALUES (8)")
	if err := owner.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	if err := owner.Wait(); err == nil {
		t.Error("the owner ended well though it was killed")
	}
	// At once, while the old server may still be shutting down.
	s, _ := start(t, dir)
	// The number may stay taken by a dead process nobody has waited for, so we look at who works on the folder.
	if pids := processesOn(s.folder.data); slices.Contains(pids, pid) {
		t.Errorf("the old server (process %d) still runs beside the new one (%d)", pid, s.Pid())
	}
	if got := query[int](t, s.SuperURL(), "SELECT n FROM kept"); got != 8 {
		t.Errorf("after the kill: %d, want 8", got)
	}
}

// launchLoose starts the folder's server with no owner, as where the system can't tie it to its owner's life.
func launchLoose(t *testing.T, s *Server) *exec.Cmd {
	t.Helper()
	cmd := exec.Command(s.programs.Postgres(), s.arguments()...)
	cmd.Dir = s.folder.socket
	cmd.Env = cleanEnvironment(os.Environ())
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: s.account.credential(), Setpgid: true}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = cmd.Process.Kill() // ended long ago if all went well
		_ = cmd.Wait()
	})
	eventually(t, "the loose server answers", func() bool { return ping(t.Context(), s.SuperURL()) == nil })
	return cmd
}

func TestOrphanIsStoppedCleanly(t *testing.T) {
	dir := newDir(t)
	s, _ := start(t, dir)
	stop(t, s)
	orphan := launchLoose(t, s)
	execute(t, s.SuperURL(), "CREATE TABLE kept (n int)", "INSERT INTO kept VALUES (9)")
	ended := make(chan error, 1)
	go func() { ended <- orphan.Wait() }()

	again, out := start(t, dir)
	select {
	case err := <-ended:
		if err != nil {
			t.Errorf("the orphan didn't end cleanly: %v", err)
		}
	case <-time.After(10 * time.Second):
		t.Fatal("the orphan still runs")
	}
	if !strings.Contains(out.String(), fmt.Sprintf("process %d", orphan.Process.Pid)) {
		t.Errorf("progress: %q", out)
	}
	if got := query[int](t, again.SuperURL(), "SELECT n FROM kept"); got != 9 {
		t.Errorf("after the orphan: %d, want 9", got)
	}
	if pids := processesOn(again.folder.data); !slices.Contains(pids, again.Pid()) {
		t.Errorf("processes on the folder: %v, without the server %d", pids, again.Pid())
	}
}

func TestOrphanThatWasKilledLeavesNothingInTheWay(t *testing.T) {
	dir := newDir(t)
	s, _ := start(t, dir)
	stop(t, s)
	orphan := launchLoose(t, s)
	execute(t, s.SuperURL(), "CREATE TABLE kept (n int)", "INSERT INTO kept VALUES (10)")
	if err := orphan.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	again, _ := start(t, dir)
	if got := query[int](t, again.SuperURL(), "SELECT n FROM kept"); got != 10 {
		t.Errorf("after the kill: %d, want 10", got)
	}
}

func TestStaleServerFileOfAReusedProcessNumber(t *testing.T) {
	dir := newDir(t)
	s, _ := start(t, dir)
	stop(t, s)
	// As after a reboot: the number in the files now belongs to another program of the same account.
	other := exec.Command("sleep", "600")
	other.SysProcAttr = &syscall.SysProcAttr{Credential: s.account.credential()}
	if err := other.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() {
		_ = other.Process.Kill()
		_ = other.Wait()
	}()
	pid := other.Process.Pid
	serverFile := fmt.Sprintf("%d\n%s\n%d\n5432\n%s\n\n  5432001        0\nready   \n", pid, s.folder.data, time.Now().Unix(), s.folder.socket)
	for path, text := range map[string]string{
		filepath.Join(s.folder.data, "postmaster.pid"):     serverFile,
		filepath.Join(s.folder.socket, socketName+".lock"): fmt.Sprintf("%d\n%s\n", pid, s.folder.data),
	} {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := s.account.own(path); err != nil {
			t.Fatal(err)
		}
	}
	start(t, dir)
	if !alive(pid) {
		t.Error("the other program was killed")
	}
}

func TestStartCutShortIsMadeGood(t *testing.T) {
	dir := newDir(t)
	f, err := newFolder(dir)
	if err != nil {
		t.Fatal(err)
	}
	// What a kill in the middle of initdb leaves.
	if err := os.MkdirAll(filepath.Join(f.staging, "base", "1"), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(filepath.Dir(dir), 0o711); err != nil {
		t.Fatal(err)
	}
	s, _ := startNew(t, dir)
	if _, err := os.Stat(f.staging); !os.IsNotExist(err) {
		t.Errorf("the half-made database is still there: %v", err)
	}
	if query[int](t, s.SuperURL(), "SELECT 1") != 1 {
		t.Error("no answer")
	}
}
