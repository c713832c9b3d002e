package certificate

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"os"
	"sync"
	"time"
)

// Pair is a certificate with its key, being served. It is read again when its files change, so that a renewed one is
// served without a restart; one that can't be used is passed over, and the one before is kept.
type Pair struct {
	certFile, keyFile string
	now               func() time.Time
	changed           func(error)

	mu     sync.Mutex
	loaded stamps
	pair   *tls.Certificate
}

// stamps tell whether files have changed.
type stamps struct {
	certTime, keyTime time.Time
	certSize, keySize int64
}

// Load reads a certificate and its key from PEM files. changed is told of each later reading, with what is wrong with
// it or nil. The error says what happened, what was kept and what to do next.
func Load(certFile, keyFile string, now func() time.Time, changed func(error)) (*Pair, error) {
	p := &Pair{certFile: certFile, keyFile: keyFile, now: now, changed: changed}
	var err error
	if p.loaded, err = p.stamps(); err == nil {
		p.pair, err = read(certFile, keyFile, now())
	}
	if err != nil {
		return nil, fmt.Errorf("HTTPS can't be served: %w. Nothing is served, and all that is recorded is kept. "+
			"Put right what TAGALONG_CERTIFICATE and TAGALONG_CERTIFICATE_KEY name, or make a certificate with "+
			"`tagalong certificate --dir DIR` and set TAGALONG_CERTIFICATE_DIR=DIR", err)
	}
	return p, nil
}

func (p *Pair) stamps() (stamps, error) {
	cert, err := os.Stat(p.certFile)
	if err != nil {
		return stamps{}, err
	}
	key, err := os.Stat(p.keyFile)
	if err != nil {
		return stamps{}, err
	}
	return stamps{cert.ModTime(), key.ModTime(), cert.Size(), key.Size()}, nil
}

// Get gives the certificate for a connection; it is tls.Config.GetCertificate.
func (p *Pair) Get(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	now, err := p.stamps()
	if err != nil || now == p.loaded {
		return p.pair, nil // files being exchanged are looked at again by the next connection
	}
	p.loaded = now
	fresh, err := read(p.certFile, p.keyFile, p.now())
	if err == nil {
		p.pair = fresh
	}
	p.changed(err)
	return p.pair, nil
}

// Leaf is the certificate being served.
func (p *Pair) Leaf() *x509.Certificate {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.pair.Leaf
}

func read(certFile, keyFile string, now time.Time) (*tls.Certificate, error) {
	certPEM, err := os.ReadFile(certFile)
	if err != nil {
		return nil, err
	}
	keyPEM, err := os.ReadFile(keyFile)
	if err != nil {
		return nil, err
	}
	pair, err := tls.X509KeyPair(certPEM, keyPEM)
	if err != nil {
		return nil, fmt.Errorf("%s and %s are no certificate with its key: %w", certFile, keyFile, err)
	}
	switch leaf := pair.Leaf; {
	case now.After(leaf.NotAfter):
		return nil, fmt.Errorf("the certificate %s ended on %s", certFile, day(leaf.NotAfter))
	case now.Before(leaf.NotBefore):
		return nil, fmt.Errorf("the certificate %s begins on %s, and this machine's clock says %s", certFile, day(leaf.NotBefore), day(now))
	case len(leaf.DNSNames)+len(leaf.IPAddresses) == 0:
		return nil, errors.New("the certificate " + certFile + " names no host, and no browser takes such a one")
	}
	return &pair, nil
}

// ReadAuthority reads the certificate of an authority, to give to tablets.
func ReadAuthority(path string) (*x509.Certificate, error) {
	cert, err := readCertificate(path)
	if err != nil {
		return nil, fmt.Errorf("the authority's certificate can't be offered to tablets: %w. Nothing is served, and all that is recorded is kept. "+
			"Put it back from its backup, or make a new one with `tagalong certificate`", err)
	}
	return cert, nil
}
