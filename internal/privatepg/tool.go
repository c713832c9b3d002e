package privatepg

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"time"
)

// toolLine matches what PostgreSQL's own programs print of themselves: "pg_dump (PostgreSQL) 15.14 (Debian ...)".
var toolLine = regexp.MustCompile(`^\S+ \(PostgreSQL\) (\d{1,4})`)

// Tool finds one of PostgreSQL's client programs, such as pg_dump: the newest there is. One that is older than the
// server it talks to won't do, so it must be of version atLeast or newer.
func (f Finder) Tool(ctx context.Context, name string, atLeast int) (string, error) {
	best, major := "", 0
	for _, dir := range f.dirs() {
		path := filepath.Join(dir, name)
		if _, err := os.Stat(path); err != nil || !filepath.IsAbs(path) {
			continue
		}
		if v, err := toolMajor(ctx, path); err == nil && v > major {
			best, major = path, v
		}
	}
	if major >= atLeast {
		return best, nil
	}
	found := "isn't installed"
	if best != "" {
		found = fmt.Sprintf("is too old (%s is of version %d)", best, major)
	}
	return "", fmt.Errorf("PostgreSQL's program %s of version %d or newer %s. Nothing was changed. Type this, then start again:\n\n    %s",
		name, atLeast, found, installCommand(runtime.GOOS, os.Geteuid() == 0, 0, onPath))
}

func toolMajor(ctx context.Context, path string) (int, error) {
	ctx, cancel := context.WithTimeout(ctx, 10*time.Second)
	defer cancel()
	out, err := exec.CommandContext(ctx, path, "--version").Output()
	if err != nil {
		return 0, err
	}
	m := toolLine.FindSubmatch(out)
	if m == nil {
		return 0, fmt.Errorf("%s is no program of PostgreSQL's", path)
	}
	return strconv.Atoi(string(m[1]))
}
