package privatepg

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
)

// folder is the layout of the folder a private server lives in.
type folder struct {
	root    string // everything below; belongs to us
	data    string // the database; belongs to PostgreSQL's account
	staging string // a database being made; renamed to data once whole
	secret  string // what the passwords are derived from, mode 0600
	lock    string // held with flock while a Tagalong runs here; holds its process number
	log     string // what PostgreSQL prints
	socket  string // the folder of the Unix socket
}

// longestSocket is the longest path of a Unix socket that works everywhere: sockaddr_un holds 108 bytes
// on Linux (unix(7)) and 104 on macOS and the BSDs, one of them the closing NUL.
const longestSocket = 103

// socketName is the file PostgreSQL makes in its socket folder for port 5432.
const socketName = ".s.PGSQL.5432"

func newFolder(dir string) (folder, error) {
	root, err := filepath.Abs(dir)
	if err != nil {
		return folder{}, err
	}
	f := folder{
		root:    root,
		data:    filepath.Join(root, "data"),
		staging: filepath.Join(root, "data.new"),
		secret:  filepath.Join(root, "secret"),
		lock:    filepath.Join(root, "lock"),
		log:     filepath.Join(root, "postgresql.log"),
		socket:  filepath.Join(root, "run"),
	}
	// PostgreSQL separates several socket folders by commas, so a comma can't stand in this one.
	if len(filepath.Join(f.socket, socketName)) > longestSocket || strings.ContainsAny(f.socket, ",\"'") {
		sum := sha256.Sum256([]byte(root))
		f.socket = fmt.Sprintf("/tmp/tagalong-%d-%s", os.Geteuid(), hex.EncodeToString(sum[:6]))
	}
	return f, nil
}

// major returns the version the data was made by, 0 if there is none yet.
func (f folder) major() (int, error) {
	text, err := os.ReadFile(filepath.Join(f.data, "PG_VERSION"))
	if errors.Is(err, fs.ErrNotExist) {
		return 0, nil
	}
	if err != nil {
		return 0, fmt.Errorf("the data folder %s can't be read: %w. Nothing was changed. "+
			"Start Tagalong as the account that made it, or name another folder with TAGALONG_DATA", f.data, err)
	}
	major, err := strconv.Atoi(strings.TrimSpace(string(text)))
	if err != nil {
		return 0, fmt.Errorf("%s doesn't hold a version number: %q", filepath.Join(f.data, "PG_VERSION"), text)
	}
	return major, nil
}

// make creates the folders so that the account can reach its own and nobody else can read them.
func (f folder) make(a account) error {
	parentMode := fs.FileMode(0o700)
	if a.drop {
		parentMode = 0o755
	}
	if err := makeParents(filepath.Dir(f.root), parentMode); err != nil {
		return err
	}
	if err := makeFolder(f.root, a.folderMode(), uint32(os.Geteuid()), a.uid); err != nil {
		return err
	}
	if err := makeFolder(f.socket, 0o700, a.uid, uint32(os.Geteuid())); err != nil {
		return err
	}
	return a.own(f.socket)
}

// makeParents makes the missing folders up to dir with this mode, whatever the umask; those that exist stay as they are.
func makeParents(dir string, mode fs.FileMode) error {
	if _, err := os.Stat(dir); err == nil || dir == filepath.Dir(dir) {
		return nil
	}
	if err := makeParents(filepath.Dir(dir), mode); err != nil {
		return err
	}
	if err := os.Mkdir(dir, mode); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	return os.Chmod(dir, mode)
}

// makeFolder makes a folder, or checks that the one there is a real folder of one of the owners: in a shared
// place such as /tmp somebody else could have put one in our way.
func makeFolder(dir string, mode fs.FileMode, owners ...uint32) error {
	if err := os.Mkdir(dir, mode); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	info, err := os.Lstat(dir)
	if err != nil {
		return err
	}
	st, ok := info.Sys().(*syscall.Stat_t)
	if !info.IsDir() || !ok {
		return fmt.Errorf("%s is in the way: a folder is needed there. Nothing was changed. Move it and start again", dir)
	}
	for _, owner := range owners {
		if st.Uid == owner {
			return os.Chmod(dir, mode)
		}
	}
	return fmt.Errorf("the folder %s belongs to another account (user number %d). Nothing was changed. "+
		"Start Tagalong as that account, or name another folder with TAGALONG_DATA", dir, st.Uid)
}

// LockedError says that another Tagalong already runs on the folder.
type LockedError struct {
	Dir string
	Pid int // the other process, 0 if unknown
}

func (e *LockedError) Error() string {
	who := "another Tagalong"
	if e.Pid != 0 {
		who = fmt.Sprintf("another Tagalong (process %d)", e.Pid)
	}
	return fmt.Sprintf("%s already runs on the folder %s. Nothing was changed. "+
		"Stop it first, or name another folder with TAGALONG_DATA", who, e.Dir)
}

// takeLock holds the folder until the file is closed. The system lets go of it when we die, however we die.
func (f folder) takeLock() (*os.File, error) {
	file, err := os.OpenFile(f.lock, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, err
	}
	err = syscall.Flock(int(file.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		var text [20]byte
		n, _ := file.ReadAt(text[:], 0) // a short read is expected
		pid, _ := strconv.Atoi(strings.TrimSpace(string(text[:n])))
		file.Close()
		return nil, &LockedError{Dir: f.root, Pid: pid}
	}
	if err == nil {
		err = file.Truncate(0)
	}
	if err == nil {
		_, err = file.WriteAt(fmt.Appendf(nil, "%d\n", os.Getpid()), 0)
	}
	if err != nil {
		file.Close()
		return nil, fmt.Errorf("the folder %s can't be locked: %w", f.root, err)
	}
	return file, nil
}

// readSecret returns the folder's secret and makes it if the folder is new.
func (f folder) readSecret() ([]byte, error) {
	secret, err := os.ReadFile(f.secret)
	if err == nil && len(secret) == 64 {
		return secret, nil
	}
	if err == nil {
		return nil, fmt.Errorf("the file %s is damaged: it has %d bytes instead of 64. Nothing was changed. Put it back from your backup", f.secret, len(secret))
	}
	if !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	if _, err := os.Stat(f.data); err == nil {
		return nil, fmt.Errorf("the password file %s is missing, though the database %s is there. Nothing was changed. Put it back from your backup", f.secret, f.data)
	}
	var raw [32]byte
	rand.Read(raw[:]) // never fails, crypto/rand
	secret = []byte(hex.EncodeToString(raw[:]))
	return secret, writeWhole(f.secret, secret)
}

// writeWhole writes a file that is either whole or not there, even after a power cut.
func writeWhole(path string, content []byte) error {
	file, err := os.OpenFile(path+".new", os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	_, err = file.Write(content)
	if err == nil {
		err = file.Sync()
	}
	if err = errors.Join(err, file.Close()); err != nil {
		return err
	}
	if err := os.Rename(path+".new", path); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(path))
}

func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// password derives a role's password from the folder's secret, so that one file keeps them all.
func password(secret []byte, role string) string {
	mac := hmac.New(sha256.New, secret)
	mac.Write([]byte("postgresql role " + role))
	return hex.EncodeToString(mac.Sum(nil)[:20])
}
