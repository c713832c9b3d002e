package certificate

import (
	"crypto/sha256"
	"crypto/x509"
	"encoding/hex"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// How long certificates last. Browsers take no server certificate of more than 398 days (CA/Browser Forum, Baseline
// Requirements, section 6.3.2, from 2020 on; private authorities are mostly spared, not by every browser).
const (
	ServerLasts    = 397 * 24 * time.Hour
	AuthorityLasts = 10 * 365 * 24 * time.Hour
)

// Files are where a folder keeps what Make made.
type Files struct {
	Authority    string // what tablets must trust; may be given to everybody
	AuthorityKey string // signs server certificates; needed to renew, not to serve
	Server       string
	ServerKey    string
}

// In are the files of a folder.
func In(dir string) Files {
	return Files{
		Authority: filepath.Join(dir, "authority.pem"), AuthorityKey: filepath.Join(dir, "authority-key.pem"),
		Server: filepath.Join(dir, "server.pem"), ServerKey: filepath.Join(dir, "server-key.pem"),
	}
}

// Request is what to make.
type Request struct {
	Dir   string   // made if missing
	Names []string // host names and IP addresses the server is reached by; those of the machine itself are added
	Renew bool     // keep the authority that is there, make the server certificate anew; without Names, with the names it has
	Now   time.Time
}

// Made is what was made.
type Made struct {
	Files         Files
	Names         []string
	Fingerprint   string    // of the authority
	AuthorityEnds time.Time // when the authority lapses
	Ends          time.Time // when the server certificate lapses
}

// Make writes an authority and a server certificate into a folder, all files for their owner only. It overwrites
// nothing unless asked to renew, and then the authority stays as it is. Its errors are sentences for people: what
// happened, what was kept, what to do next.
func Make(r Request) (Made, error) {
	files := In(r.Dir)
	if r.Renew {
		return renew(r, files)
	}
	for _, path := range []string{files.Authority, files.AuthorityKey, files.Server, files.ServerKey} {
		if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
			return Made{}, fmt.Errorf("%s is there already, and tablets may trust it. Nothing was changed. "+
				"Add --renew for a new server certificate by the same authority, or name another folder with --dir", path)
		}
	}
	n, err := parseNames(r.Names)
	if err != nil {
		return Made{}, err
	}
	if err := os.MkdirAll(r.Dir, 0o700); err != nil {
		return Made{}, fmt.Errorf("make the folder %s: %w. Nothing was made", r.Dir, err)
	}
	a, err := newAuthority(n, r.Now)
	if err != nil {
		return Made{}, fmt.Errorf("make the authority: %w. Nothing was made", err)
	}
	keyPEM, err := encodeKey(a.key)
	if err != nil {
		return Made{}, err
	}
	made, err := writeServer(files, a, n, r.Now)
	if err != nil {
		return Made{}, err
	}
	return made, errors.Join(writeFile(files.AuthorityKey, keyPEM), writeFile(files.Authority, encodeCertificate(a.cert)))
}

func renew(r Request, files Files) (Made, error) {
	a, err := readAuthority(files)
	if err != nil {
		return Made{}, err
	}
	if r.Now.After(a.cert.NotAfter) {
		return Made{}, fmt.Errorf("the authority of %s ended on %s. Nothing was changed. Make a new one in another folder "+
			"with --dir, and have the tablets trust that", r.Dir, day(a.cert.NotAfter))
	}
	given := r.Names
	if len(given) == 0 {
		old, err := readCertificate(files.Server)
		if err != nil {
			return Made{}, fmt.Errorf("the names of the old server certificate can't be read: %w. Nothing was changed. Name the server with --name", err)
		}
		given = namesOf(old)
	}
	n, err := parseNames(given)
	if err != nil {
		return Made{}, err
	}
	return writeServer(files, a, n, r.Now)
}

// writeServer makes a server certificate, and tries it as a browser would before it is written.
func writeServer(files Files, a authority, n names, now time.Time) (Made, error) {
	cert, key, err := a.sign(n, now)
	if err != nil {
		return Made{}, fmt.Errorf("make the server certificate: %w. Nothing was changed", err)
	}
	roots := x509.NewCertPool()
	roots.AddCert(a.cert)
	for _, name := range n.all() {
		if _, err := cert.Verify(x509.VerifyOptions{Roots: roots, DNSName: name, CurrentTime: now}); err != nil {
			return Made{}, fmt.Errorf("the authority can't vouch for %q: it was made for other names (%w). Nothing was changed. "+
				"Make a new one in another folder with --dir, and have the tablets trust that", name, err)
		}
	}
	keyPEM, err := encodeKey(key)
	if err != nil {
		return Made{}, err
	}
	// A server that reads between the two keeps the pair it has, see Pair.
	if err := errors.Join(writeFile(files.ServerKey, keyPEM), writeFile(files.Server, encodeCertificate(cert))); err != nil {
		return Made{}, err
	}
	return Made{Files: files, Names: n.all(), Fingerprint: Fingerprint(a.cert), AuthorityEnds: a.cert.NotAfter, Ends: cert.NotAfter}, nil
}

// writeFile writes a file for its owner only, whole or not at all.
func writeFile(path string, content []byte) error {
	temp := path + ".new"
	// O_EXCL: with what another left there, its mode would be kept too.
	if err := os.Remove(temp); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	f, err := os.OpenFile(temp, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	_, err = f.Write(content)
	if err = errors.Join(err, f.Sync(), f.Close()); err == nil {
		err = os.Rename(temp, path)
	}
	if err != nil {
		return fmt.Errorf("write %s: %w", path, errors.Join(err, os.Remove(temp)))
	}
	return nil
}

func encodeCertificate(c *x509.Certificate) []byte {
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: c.Raw})
}

// Fingerprint is the SHA-256 of a certificate as people compare it: "3F:09:…".
func Fingerprint(c *x509.Certificate) string {
	sum := sha256.Sum256(c.Raw)
	pairs := make([]string, len(sum))
	for i := range sum {
		pairs[i] = strings.ToUpper(hex.EncodeToString(sum[i : i+1]))
	}
	return strings.Join(pairs, ":")
}

func day(t time.Time) string { return t.UTC().Format("2 January 2006") }
