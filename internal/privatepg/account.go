package privatepg

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
)

// account is the system account PostgreSQL runs as. PostgreSQL refuses to run as root.
type account struct {
	name     string
	uid, gid uint32
	drop     bool // we are root and must switch to it
}

// chooseAccount keeps the present account, unless that is root. Then an existing data folder decides
// (its owner made it); a new one gets the account "postgres" if there is one, else "nobody".
func chooseAccount(dataDir string) (account, error) {
	if uid := os.Geteuid(); uid != 0 {
		return account{uid: uint32(uid), gid: uint32(os.Getegid())}, nil
	}
	info, err := os.Stat(dataDir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return account{}, err
	}
	if err == nil {
		if st, ok := info.Sys().(*syscall.Stat_t); ok && st.Uid != 0 {
			a := account{name: strconv.Itoa(int(st.Uid)), uid: st.Uid, gid: st.Gid, drop: true}
			if u, err := user.LookupId(a.name); err == nil {
				a.name = u.Username
			}
			return a, nil
		}
	}
	for _, name := range []string{"postgres", "nobody"} {
		u, err := user.Lookup(name)
		if err != nil {
			continue
		}
		uid, errU := strconv.ParseUint(u.Uid, 10, 32)
		gid, errG := strconv.ParseUint(u.Gid, 10, 32)
		if errU == nil && errG == nil && uid != 0 {
			return account{name: name, uid: uint32(uid), gid: uint32(gid), drop: true}, nil
		}
	}
	return account{}, errors.New("PostgreSQL doesn't run as root, and this machine has neither an account \"postgres\" " +
		"nor \"nobody\" to run it as. Nothing was changed. Start Tagalong as a plain user")
}

// own hands a file or folder to the account.
func (a account) own(path string) error {
	if !a.drop {
		return nil
	}
	return os.Lchown(path, int(a.uid), int(a.gid))
}

// credential returns what a child process needs to run as the account, nil if it does already.
func (a account) credential() *syscall.Credential {
	if !a.drop {
		return nil
	}
	return &syscall.Credential{Uid: a.uid, Gid: a.gid}
}

// folderMode is the mode of the folder around the data: others only pass through when PostgreSQL is one of them.
func (a account) folderMode() fs.FileMode {
	if a.drop {
		return 0o711
	}
	return 0o700
}

// UnreachableError says that PostgreSQL's account can't enter a folder above the data folder.
type UnreachableError struct {
	Account string // the account PostgreSQL would run as
	Folder  string // the folder it can't enter
	Data    string // the data folder asked for
}

func (e *UnreachableError) Error() string {
	what := fmt.Sprintf("PostgreSQL doesn't run as root, so it would run as %q, who can't enter %s. Nothing was changed. ", e.Account, e.Folder)
	if e.Folder == rootDataDir || strings.HasPrefix(e.Folder, rootDataDir+"/") {
		return what + fmt.Sprintf("Let it pass through, then start again:\n\n    chmod o+x %s\n", e.Folder)
	}
	return what + fmt.Sprintf("Choose a data folder that account can reach, for example:\n\n    TAGALONG_DATA=%s\n", rootDataDir)
}

// blockedBy returns the topmost folder on the way to path that the account can't pass, judged by the
// mode bits, or "". It only names the culprit; whether there is one is tried for real.
func (a account) blockedBy(path string) string {
	blocked := ""
	for dir := filepath.Clean(path); ; dir = filepath.Dir(dir) {
		if info, err := os.Stat(dir); err == nil {
			st, ok := info.Sys().(*syscall.Stat_t)
			if ok && !mayEnter(info.Mode().Perm(), st.Uid == a.uid, st.Gid == a.gid) {
				blocked = dir
			}
		}
		if dir == filepath.Dir(dir) {
			return blocked
		}
	}
}

func mayEnter(mode fs.FileMode, owner, group bool) bool {
	switch {
	case owner:
		return mode&0o100 != 0
	case group:
		return mode&0o010 != 0
	}
	return mode&0o001 != 0
}
