package privatepg

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
)

// processOwner returns the user number a process runs as.
func processOwner(t *testing.T, pid int) int {
	t.Helper()
	out, err := exec.Command("ps", "-o", "uid=", "-p", strconv.Itoa(pid)).Output()
	if err != nil {
		t.Fatalf("ps: %v", err)
	}
	uid, err := strconv.Atoi(strings.TrimSpace(string(out)))
	if err != nil {
		t.Fatal(err)
	}
	return uid
}

func TestServerNeverRunsAsRoot(t *testing.T) {
	s, _ := start(t, newDir(t))
	uid := processOwner(t, s.Pid())
	if os.Geteuid() != 0 {
		if uid != os.Geteuid() {
			t.Errorf("runs as user %d, we are %d", uid, os.Geteuid())
		}
		return
	}
	want := "nobody"
	if _, err := user.Lookup("postgres"); err == nil {
		want = "postgres"
	}
	if u, err := user.LookupId(strconv.Itoa(uid)); err != nil || u.Username != want {
		t.Errorf("runs as user %d (%v, %v), want %s", uid, u, err, want)
	}
}

// TestAsPlainUser runs the tests of the server again as a user without rights, when we are root. Without root all
// of this package's tests run as a plain user anyway, which is checked instead.
func TestAsPlainUser(t *testing.T) {
	const inner = "TAGALONG_TEST_PLAIN"
	if os.Geteuid() != 0 {
		if a, err := chooseAccount(newDir(t)); err != nil || a.drop || a.uid != uint32(os.Geteuid()) {
			t.Errorf("a plain user's account: %+v, %v", a, err)
		}
		return
	}
	if os.Getenv(inner) != "" {
		t.Fatal("the tests for a plain user run as root")
	}
	nobody, err := user.Lookup("nobody")
	if err != nil {
		t.Fatal(err)
	}
	uid, _ := strconv.Atoi(nobody.Uid)
	gid, _ := strconv.Atoi(nobody.Gid)
	home := filepath.Dir(filepath.Dir(newDir(t)))
	// The folder the test was built in is closed to others.
	binary := filepath.Join(home, "privatepg.test")
	copyProgram(t, binary)
	if err := os.Chown(home, uid, gid); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(binary, "-test.v", "-test.run", "^(TestStart|TestServer|TestLong|TestSecond|TestReachJoins|TestKilledOwner|TestOrphanIsStopped|TestAsPlainUser|TestInstalls|TestDefault)")
	cmd.Dir = home
	cmd.Env = []string{"HOME=" + home, "TMPDIR=" + home, "PATH=" + os.Getenv("PATH"), inner + "=1"}
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}}
	out, err := cmd.CombinedOutput()
	if err != nil || !strings.Contains(string(out), "--- PASS: TestStartStopStartKeepsData") ||
		!strings.Contains(string(out), "--- PASS: TestServerNeverRunsAsRoot") {
		t.Errorf("as %s: %v\n%s", nobody.Username, err, out)
	}
}

// TestRootKeepsTheOwnerOfTheData has root start on the folder of a plain user, who then can go on with it.
func TestRootKeepsTheOwnerOfTheData(t *testing.T) {
	dir := newDir(t)
	s, _ := start(t, dir)
	stop(t, s)
	if os.Geteuid() != 0 {
		if uid := processOwner(t, os.Getpid()); uint32(uid) != s.account.uid {
			t.Errorf("a plain user's server ran as %d", s.account.uid)
		}
		return
	}
	nobody, err := user.Lookup("nobody")
	if err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("chown", "-R", nobody.Uid+":"+nobody.Gid, dir).CombinedOutput(); err != nil {
		t.Fatalf("chown: %v: %s", err, out)
	}
	if err := os.Remove(s.folder.log); err != nil {
		t.Fatal(err)
	}
	s, _ = start(t, dir)
	if uid := strconv.Itoa(processOwner(t, s.Pid())); uid != nobody.Uid {
		t.Errorf("runs as %s, the data belongs to %s", uid, nobody.Uid)
	}
	stop(t, s)
	for _, path := range []string{s.folder.root, s.folder.log, s.folder.lock, s.folder.secret, s.folder.data} {
		info, err := os.Stat(path)
		if err != nil {
			t.Fatal(err)
		}
		if st := info.Sys().(*syscall.Stat_t); strconv.Itoa(int(st.Uid)) != nobody.Uid {
			t.Errorf("%s now belongs to %d", path, st.Uid)
		}
	}
}

func copyProgram(t *testing.T, to string) {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	from, err := os.Open(self)
	if err != nil {
		t.Fatal(err)
	}
	defer from.Close()
	file, err := os.OpenFile(to, os.O_CREATE|os.O_WRONLY, 0o755)
	if err != nil {
		t.Fatal(err)
	}
	_, err = io.Copy(file, from)
	if err := errors.Join(err, file.Close()); err != nil {
		t.Fatal(err)
	}
}

func TestFolderOutOfReachIsNamed(t *testing.T) {
	closed := filepath.Join(filepath.Dir(filepath.Dir(newDir(t))), "closed")
	if err := os.Mkdir(closed, 0o700); err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(closed, "a", "pg")
	s, err := Start(t.Context(), Options{Dir: dir, NoSync: true})
	if os.Geteuid() != 0 {
		// The folder is the plain user's own, so nothing is out of reach.
		if err != nil {
			t.Fatal(err)
		}
		stop(t, s)
		return
	}
	var unreachable *UnreachableError
	if !errors.As(err, &unreachable) || unreachable.Folder != closed || !strings.Contains(err.Error(), "TAGALONG_DATA="+rootDataDir) {
		t.Errorf("got %v", err)
	}
	if _, err := os.Stat(filepath.Join(closed, "a")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a folder was made all the same: %v", err)
	}
}

func TestFolderOfAnotherAccountIsRefused(t *testing.T) {
	dir := filepath.Dir(newDir(t))
	if err := os.Symlink("/", dir); err != nil {
		t.Fatal(err)
	}
	if err := makeFolder(dir, 0o700, uint32(os.Geteuid())); err == nil || !strings.Contains(err.Error(), "is in the way") {
		t.Errorf("a link: %v", err)
	}
	if err := makeFolder("/", 0o755, 4_000_000_000); err == nil || !strings.Contains(err.Error(), "belongs to another account") {
		t.Errorf("somebody else's folder: %v", err)
	}
}

func TestMayEnter(t *testing.T) {
	// One class of bits counts, the first that fits: POSIX.1-2017, base definitions, 4.5 File Access Permissions.
	for _, tt := range []struct {
		mode         fs.FileMode
		owner, group bool
		want         bool
	}{
		{0o700, true, false, true}, {0o700, false, true, false}, {0o700, false, false, false},
		{0o711, false, false, true}, {0o710, false, true, true}, {0o710, false, false, false},
		{0o011, true, true, false}, {0o701, false, true, false}, {0o744, false, false, false},
	} {
		if got := mayEnter(tt.mode, tt.owner, tt.group); got != tt.want {
			t.Errorf("mode %o, owner %v, group %v: %v", tt.mode, tt.owner, tt.group, got)
		}
	}
}

func TestDefaultDataDir(t *testing.T) {
	home := t.TempDir()
	t.Setenv("HOME", home)
	t.Setenv("XDG_DATA_HOME", "")
	got, err := DefaultDataDir()
	want := filepath.Join(home, ".local/share/tagalong")
	if os.Geteuid() == 0 {
		want = rootDataDir // root's home is closed to PostgreSQL's account
	}
	if err != nil || got != want {
		t.Errorf("got %s, %v; want %s", got, err, want)
	}
	if os.Geteuid() != 0 {
		t.Setenv("XDG_DATA_HOME", "/elsewhere")
		if got, err := DefaultDataDir(); err != nil || got != "/elsewhere/tagalong" {
			t.Errorf("with XDG_DATA_HOME: %s, %v", got, err)
		}
	}
	if entries, err := os.ReadDir(home); err != nil || len(entries) > 0 {
		t.Errorf("something was made: %v, %v", fmt.Sprint(entries), err)
	}
}
