package privatepg

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"sort"
	"strconv"
	"strings"
	"time"
)

// OldestMajor is the oldest PostgreSQL major version Tagalong runs on.
const OldestMajor = 15

// Version is a PostgreSQL version; since version 10 it has two numbers.
type Version struct{ Major, Minor int }

func (v Version) String() string { return fmt.Sprintf("%d.%d", v.Major, v.Minor) }

// Less orders versions from oldest to newest.
func (v Version) Less(w Version) bool {
	if v.Major != w.Major {
		return v.Major < w.Major
	}
	return v.Minor < w.Minor
}

// versionLine matches what `postgres --version` prints: "postgres (PostgreSQL) 15.14 (Debian ...)".
// A development build says "18devel", a preview "18beta1" or "18rc1"; these count as minor 0.
var versionLine = regexp.MustCompile(`^postgres \(PostgreSQL\) (\d{1,4})(?:\.(\d{1,4}))?(?:devel|beta\d+|rc\d+)?(?:\s|$)`)

// ParseVersion reads the line printed by `postgres --version`. Versions before 10 had three
// numbers; only their first two are kept, which is enough to see that they are too old.
func ParseVersion(line string) (Version, error) {
	line = strings.TrimSpace(line)
	m := versionLine.FindStringSubmatch(line)
	if m == nil {
		m = regexp.MustCompile(`^postgres \(PostgreSQL\) (\d)\.(\d{1,4})\.\d+`).FindStringSubmatch(line)
	}
	if m == nil {
		return Version{}, fmt.Errorf("not a PostgreSQL version line: %q", line)
	}
	var v Version
	v.Major, _ = strconv.Atoi(m[1]) // digits by the pattern
	if m[2] != "" {
		v.Minor, _ = strconv.Atoi(m[2])
	}
	return v, nil
}

// Programs is one installed PostgreSQL: the folder holding its postgres and initdb.
type Programs struct {
	Dir     string
	Version Version
}

// Postgres returns the path of the server program.
func (p Programs) Postgres() string { return filepath.Join(p.Dir, "postgres") }

// Initdb returns the path of the program that makes a data folder.
func (p Programs) Initdb() string { return filepath.Join(p.Dir, "initdb") }

// Finder looks for installed PostgreSQL programs.
type Finder struct {
	Path  string   // folders separated as in $PATH
	Globs []string // patterns of further folders
}

// SystemFinder looks where Debian, Red Hat and Homebrew put PostgreSQL, and along $PATH.
func SystemFinder() Finder {
	return Finder{
		Path: os.Getenv("PATH"),
		Globs: []string{
			"/usr/lib/postgresql/*/bin",
			"/usr/pgsql-*/bin",
			"/opt/homebrew/opt/postgresql@*/bin",
			"/usr/local/opt/postgresql@*/bin",
			"/home/linuxbrew/.linuxbrew/opt/postgresql@*/bin",
		},
	}
}

// All returns every PostgreSQL found, newest first, those too old included.
func (f Finder) All(ctx context.Context) []Programs {
	seen := make(map[string]bool)
	var found []Programs
	for _, dir := range f.dirs() {
		// A link in /usr/local/bin may point at one program only; its neighbours are in the real folder.
		real, err := filepath.EvalSymlinks(filepath.Join(dir, "postgres"))
		if err != nil {
			continue
		}
		realDir := filepath.Dir(real)
		if seen[realDir] || !filepath.IsAbs(realDir) {
			continue
		}
		seen[realDir] = true
		p := Programs{Dir: realDir}
		if _, err := os.Stat(p.Initdb()); err != nil {
			continue
		}
		if p.Version, err = programVersion(ctx, p.Postgres()); err == nil {
			found = append(found, p)
		}
	}
	sort.SliceStable(found, func(i, j int) bool { return found[j].Version.Less(found[i].Version) })
	return found
}

// dirs are the folders to look in.
func (f Finder) dirs() []string {
	dirs := filepath.SplitList(f.Path)
	for _, glob := range f.Globs {
		matches, _ := filepath.Glob(glob) // fails only on a malformed pattern
		dirs = append(dirs, matches...)
	}
	return dirs
}

// Newest returns the newest PostgreSQL that is new enough. With major > 0 only that major version
// will do, because a data folder is read by the version that made it and by no other.
// It returns *MissingError when there is none.
func (f Finder) Newest(ctx context.Context, major int) (Programs, error) {
	all := f.All(ctx)
	for _, p := range all {
		if p.Version.Major >= OldestMajor && (major == 0 || p.Version.Major == major) {
			return p, nil
		}
	}
	missing := &MissingError{Major: major, Found: all}
	missing.Command = installCommand(runtime.GOOS, os.Geteuid() == 0, major, onPath)
	return Programs{}, missing
}

func programVersion(ctx context.Context, postgres string) (Version, error) {
	ctx, cancel := context.WithTimeout(ctx, 10*time.Second)
	defer cancel()
	out, err := exec.CommandContext(ctx, postgres, "--version").Output()
	if err != nil {
		return Version{}, fmt.Errorf("%s --version: %w", postgres, err)
	}
	return ParseVersion(string(out))
}

// MissingError says that no fitting PostgreSQL is installed, and the one command that puts it right.
type MissingError struct {
	Major   int        // the only major version that will do, or 0 for any that is new enough
	Found   []Programs // what is installed and doesn't fit
	Command string     // the command to type
}

func (e *MissingError) Error() string {
	var b strings.Builder
	if e.Major != 0 {
		fmt.Fprintf(&b, "the data folder was made by PostgreSQL %d, and that version isn't installed", e.Major)
	} else {
		fmt.Fprintf(&b, "PostgreSQL %d or newer isn't installed", OldestMajor)
	}
	if len(e.Found) > 0 {
		fmt.Fprintf(&b, " (found only %s in %s)", e.Found[0].Version, e.Found[0].Dir)
	}
	fmt.Fprintf(&b, ". Nothing was changed. Type this, then start again:\n\n    %s\n", e.Command)
	return b.String()
}

func onPath(program string) bool {
	_, err := exec.LookPath(program)
	return err == nil
}

var errNoInstaller = errors.New("no package manager that installs without asking")
