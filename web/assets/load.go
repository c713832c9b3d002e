package assets

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"path"
	"regexp"
	"strings"
)

// hashDigits is the length of the hash in an address: 48 bits, plenty to tell
// the versions of one file apart.
const hashDigits = 12

// mimes are fixed here, since the system's table differs between machines.
var mimes = map[string]string{
	".css":   "text/css; charset=utf-8",
	".js":    "text/javascript; charset=utf-8",
	".svg":   "image/svg+xml",
	".woff2": "font/woff2",
}

type file struct {
	content []byte
	mime    string
	hash    string
	path    string
}

// References to other files, the name in the second group.
var references = map[string]*regexp.Regexp{
	".css": regexp.MustCompile(`(url\(["']?)([^"')]+)(["']?\))`),
	".js":  regexp.MustCompile(`((?:from|import)\s*\(?\s*["'])(\.{0,2}/[^"']+)(["'])`),
}

// loader reads files, those that are referred to first.
type loader struct {
	fsys fs.FS
	done map[string]*file
	open map[string]bool // being read: meeting one again is a circle
}

// mustLoad reads all files. What it panics about is a fault in the files built
// in, which the package's test finds.
func mustLoad(fsys fs.FS) map[string]*file {
	files, err := load(fsys)
	if err != nil {
		panic("assets: " + err.Error())
	}
	return files
}

func load(fsys fs.FS) (map[string]*file, error) {
	l := loader{fsys: fsys, done: map[string]*file{}, open: map[string]bool{}}
	err := fs.WalkDir(fsys, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		_, err = l.read(name)
		return err
	})
	return l.done, err
}

func (l *loader) read(name string) (*file, error) {
	if f, ok := l.done[name]; ok {
		return f, nil
	}
	if l.open[name] {
		return nil, fmt.Errorf("%s refers to itself, perhaps through another", name)
	}
	l.open[name] = true
	defer delete(l.open, name)

	content, err := fs.ReadFile(l.fsys, name)
	if err != nil {
		return nil, err
	}
	ext := path.Ext(name)
	mime, ok := mimes[ext]
	if !ok {
		return nil, fmt.Errorf("%s: no media type is known for %q", name, ext)
	}
	if pattern, ok := references[ext]; ok {
		if content, err = l.rewrite(name, content, pattern); err != nil {
			return nil, err
		}
	}
	sum := sha256.Sum256(content)
	hash := hex.EncodeToString(sum[:])[:hashDigits]
	f := &file{content: content, mime: mime, hash: hash, path: Root + strings.TrimSuffix(name, ext) + "." + hash + ext}
	l.done[name] = f
	return f, nil
}

// rewrite puts addresses with hashes in place of references to files here.
// Other addresses, such as data: and those outside Root, stay.
func (l *loader) rewrite(name string, content []byte, pattern *regexp.Regexp) ([]byte, error) {
	var failed error
	out := pattern.ReplaceAllFunc(content, func(match []byte) []byte {
		parts := pattern.FindSubmatch(match)
		target, ok := localName(name, string(parts[2]))
		if !ok {
			return match
		}
		f, err := l.read(target)
		if err != nil {
			failed = fmt.Errorf("%s refers to %s: %w", name, target, err)
			return match
		}
		return []byte(string(parts[1]) + f.path + string(parts[3]))
	})
	return out, failed
}

// localName is the file a reference means, seen from the file it stands in; it
// reports false for one that doesn't mean a file here.
func localName(from, reference string) (string, bool) {
	if rest, ok := strings.CutPrefix(reference, Root); ok {
		return rest, true
	}
	if strings.HasPrefix(reference, "/") || strings.HasPrefix(reference, "#") || strings.Contains(reference, ":") {
		return "", false
	}
	return path.Join(path.Dir(from), reference), true
}
