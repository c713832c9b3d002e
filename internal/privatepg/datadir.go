package privatepg

import (
	"errors"
	"os"
	"path/filepath"
)

// rootDataDir is where root keeps the shop's data: root's home is closed to the account PostgreSQL runs as.
const rootDataDir = "/var/lib/tagalong"

// DefaultDataDir returns the data folder used when none is named: /var/lib/tagalong for root, else
// $XDG_DATA_HOME/tagalong or ~/.local/share/tagalong. It makes nothing.
func DefaultDataDir() (string, error) {
	if os.Geteuid() == 0 {
		return rootDataDir, nil
	}
	if dir := os.Getenv("XDG_DATA_HOME"); filepath.IsAbs(dir) {
		return filepath.Join(dir, "tagalong"), nil
	}
	home, err := os.UserHomeDir()
	if err != nil || !filepath.IsAbs(home) {
		return "", errors.New("no home folder to keep the data in. Name a folder: TAGALONG_DATA=/some/folder")
	}
	return filepath.Join(home, ".local", "share", "tagalong"), nil
}
