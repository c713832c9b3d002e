package certificate

import (
	"crypto"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"math/big"
	"net"
	"net/netip"
	"os"
	"time"
)

// early is how long before now a certificate begins, for tablets whose clock is behind.
const early = time.Hour

// authority is a private certificate authority with its key.
type authority struct {
	cert *x509.Certificate
	key  crypto.Signer
}

// newAuthority makes an authority that can vouch for these names and for private addresses only: the name constraints
// of RFC 5280, section 4.2.1.10.
func newAuthority(n names, now time.Time) (authority, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return authority{}, err
	}
	serial, err := serialNumber()
	if err != nil {
		return authority{}, err
	}
	permitted := make([]*net.IPNet, 0, len(private)+len(n.addresses))
	for _, p := range private {
		permitted = append(permitted, network(p))
	}
	for _, a := range n.addresses {
		permitted = append(permitted, network(netip.PrefixFrom(a, a.BitLen())))
	}
	cert, err := create(&x509.Certificate{
		SerialNumber: serial,
		Subject:      pkix.Name{CommonName: "Tagalong authority of " + n.all()[0]},
		NotBefore:    now.Add(-early), NotAfter: now.Add(AuthorityLasts - early),
		KeyUsage: x509.KeyUsageCertSign, BasicConstraintsValid: true, IsCA: true, MaxPathLenZero: true,
		PermittedDNSDomainsCritical: true, PermittedDNSDomains: n.hosts, PermittedIPRanges: permitted,
	}, nil, key, key)
	return authority{cert, key}, err
}

// sign makes a server certificate for the names.
func (a authority) sign(n names, now time.Time) (*x509.Certificate, crypto.Signer, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, nil, err
	}
	serial, err := serialNumber()
	if err != nil {
		return nil, nil, err
	}
	template := &x509.Certificate{
		SerialNumber: serial,
		Subject:      pkix.Name{CommonName: n.all()[0]},
		NotBefore:    now.Add(-early), NotAfter: now.Add(ServerLasts - early),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		BasicConstraintsValid: true, DNSNames: n.hosts,
	}
	if template.NotAfter.After(a.cert.NotAfter) {
		template.NotAfter = a.cert.NotAfter
	}
	for _, x := range n.addresses {
		template.IPAddresses = append(template.IPAddresses, x.AsSlice())
	}
	cert, err := create(template, a.cert, key, a.key)
	return cert, key, err
}

// create signs a certificate; without a parent by itself.
func create(template, parent *x509.Certificate, key, signer crypto.Signer) (*x509.Certificate, error) {
	if parent == nil {
		parent = template
	}
	der, err := x509.CreateCertificate(rand.Reader, template, parent, key.Public(), signer)
	if err != nil {
		return nil, err
	}
	return x509.ParseCertificate(der)
}

// serialNumber is positive and random, of at most 20 bytes (RFC 5280, section 4.1.2.2).
func serialNumber() (*big.Int, error) {
	limit := new(big.Int).Lsh(big.NewInt(1), 127)
	n, err := rand.Int(rand.Reader, limit)
	if err != nil {
		return nil, err
	}
	return n.Add(n, big.NewInt(1)), nil
}

func network(p netip.Prefix) *net.IPNet {
	return &net.IPNet{IP: p.Addr().AsSlice(), Mask: net.CIDRMask(p.Bits(), p.Addr().BitLen())}
}

func encodeKey(key crypto.Signer) ([]byte, error) {
	der, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, err
	}
	return pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: der}), nil
}

// readAuthority reads an authority with its key, to sign with.
func readAuthority(files Files) (authority, error) {
	fail := func(err error) (authority, error) {
		return authority{}, fmt.Errorf("the authority to renew by can't be used: %w. Nothing was changed. "+
			"Put %s and %s back from their backup, or make a new one in another folder with --dir", err, files.Authority, files.AuthorityKey)
	}
	cert, err := readCertificate(files.Authority)
	if err != nil {
		return fail(err)
	}
	text, err := os.ReadFile(files.AuthorityKey)
	if err != nil {
		return fail(err)
	}
	block, _ := pem.Decode(text)
	if block == nil {
		return fail(fmt.Errorf("%s holds no PEM block", files.AuthorityKey))
	}
	parsed, err := x509.ParsePKCS8PrivateKey(block.Bytes)
	if err != nil {
		return fail(fmt.Errorf("%s: %w", files.AuthorityKey, err))
	}
	key, ok := parsed.(*ecdsa.PrivateKey)
	if public, same := cert.PublicKey.(*ecdsa.PublicKey); !ok || !same || !public.Equal(key.Public()) {
		return fail(errors.New("the key is not that of the certificate"))
	}
	return authority{cert, key}, nil
}

// readCertificate reads the first certificate of a PEM file.
func readCertificate(path string) (*x509.Certificate, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	block, _ := pem.Decode(text)
	if block == nil || block.Type != "CERTIFICATE" {
		return nil, fmt.Errorf("%s holds no PEM certificate", path)
	}
	cert, err := x509.ParseCertificate(block.Bytes)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return cert, nil
}

// namesOf are the names a certificate is for.
func namesOf(c *x509.Certificate) []string {
	out := append([]string(nil), c.DNSNames...)
	for _, a := range c.IPAddresses {
		out = append(out, a.String())
	}
	return out
}
