package certificate

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/x509"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// made makes the certificates of an invented shop in a new folder.
func made(t *testing.T, names ...string) (Made, string) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "https")
	m, err := Make(Request{Dir: dir, Names: names, Now: time.Now()})
	must(t, err)
	return m, dir
}

// openssl runs OpenSSL and returns what it says and whether it was content.
func openssl(t *testing.T, args ...string) (string, bool) {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), "openssl", args...)
	out, err := cmd.CombinedOutput()
	if err != nil && cmd.ProcessState == nil {
		t.Fatalf("openssl: %v", err)
	}
	return string(out), err == nil
}

// TestOpenSSLTrustsWhatIsMade asks a program that isn't ours: trusted for the names asked for, and for no other.
func TestOpenSSLTrustsWhatIsMade(t *testing.T) {
	m, _ := made(t, "Tagalong.shop.example", "192.168.1.20", "fd00::20")
	verify := func(flag, name string) (string, bool) {
		return openssl(t, "verify", "-x509_strict", "-purpose", "sslserver", "-CAfile", m.Files.Authority, flag, name, m.Files.Server)
	}
	for _, x := range []struct {
		flag, name string
		want       bool
	}{
		{"-verify_hostname", "tagalong.shop.example", true},
		{"-verify_hostname", "localhost", true},
		{"-verify_ip", "192.168.1.20", true},
		{"-verify_ip", "fd00::20", true},
		{"-verify_ip", "127.0.0.1", true},
		{"-verify_hostname", "other.shop.example", false},
		{"-verify_ip", "192.168.1.21", false},
	} {
		if said, ok := verify(x.flag, x.name); ok != x.want {
			t.Errorf("openssl verify %s %s: %v, want %v: %s", x.flag, x.name, ok, x.want, said)
		}
	}
	if said, ok := openssl(t, "x509", "-in", m.Files.Authority, "-noout", "-fingerprint", "-sha256"); !ok || !strings.Contains(said, m.Fingerprint) {
		t.Errorf("OpenSSL's fingerprint is %s, ours %s", said, m.Fingerprint)
	}
	if said, ok := openssl(t, "pkey", "-in", m.Files.ServerKey, "-check", "-noout"); !ok {
		t.Errorf("the key: %s", said)
	}
}

// TestAuthorityVouchesForNothingElse: whoever steals the authority's key can't pass for another site.
func TestAuthorityVouchesForNothingElse(t *testing.T) {
	m, dir := made(t, "tagalong.shop.example")
	a, err := readAuthority(m.Files)
	must(t, err)
	for _, name := range []string{"bank.example", "shop.example", "203.0.113.7"} { // an address for documentation, RFC 5737
		n, err := parseNames([]string{name})
		must(t, err)
		forged, _, err := a.sign(n, time.Now())
		must(t, err)
		path := filepath.Join(dir, "forged.pem")
		must(t, os.WriteFile(path, encodeCertificate(forged), 0o600))
		if said, ok := openssl(t, "verify", "-CAfile", m.Files.Authority, path); ok || !strings.Contains(said, "permitted subtree violation") {
			t.Errorf("OpenSSL on a forged %s: %v %s", name, ok, said)
		}
		roots := x509.NewCertPool()
		roots.AddCert(a.cert)
		if _, err := forged.Verify(x509.VerifyOptions{Roots: roots, DNSName: name}); err == nil {
			t.Errorf("a forged %s is trusted", name)
		}
	}
	n, err := parseNames([]string{"10.1.2.3"}) // the server's address may change within the shop's network
	must(t, err)
	moved, _, err := a.sign(n, time.Now())
	must(t, err)
	roots := x509.NewCertPool()
	roots.AddCert(a.cert)
	if _, err := moved.Verify(x509.VerifyOptions{Roots: roots, DNSName: "10.1.2.3"}); err != nil {
		t.Errorf("another private address: %v", err)
	}
}

// TestCertificatesAreAsBrowsersWant: at most 398 days (CA/Browser Forum, Baseline Requirements, section 6.3.2), a
// random serial number of 64 bits or more (section 7.1), P-256.
func TestCertificatesAreAsBrowsersWant(t *testing.T) {
	m, _ := made(t, "tagalong.shop.example")
	server, err := readCertificate(m.Files.Server)
	must(t, err)
	if lasts := server.NotAfter.Sub(server.NotBefore); lasts != 397*24*time.Hour {
		t.Errorf("it lasts %v", lasts)
	}
	if key, ok := server.PublicKey.(*ecdsa.PublicKey); !ok || key.Curve != elliptic.P256() {
		t.Errorf("its key is a %T", server.PublicKey)
	}
	if server.SerialNumber.BitLen() < 64 || server.SerialNumber.BitLen() > 159 {
		t.Errorf("its number has %d bits", server.SerialNumber.BitLen())
	}
	if server.IsCA || !slices.Equal(server.ExtKeyUsage, []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}) {
		t.Errorf("it may sign: %v, be used for %v", server.IsCA, server.ExtKeyUsage)
	}
	authority, err := readCertificate(m.Files.Authority)
	must(t, err)
	if !authority.IsCA || !authority.MaxPathLenZero || authority.KeyUsage != x509.KeyUsageCertSign {
		t.Errorf("the authority: %v, path %v, usage %v", authority.IsCA, authority.MaxPathLenZero, authority.KeyUsage)
	}
}

func TestFilesAreForTheirOwnerAndNothingIsOverwritten(t *testing.T) {
	m, dir := made(t, "tagalong.shop.example")
	before := map[string][]byte{}
	entries, err := os.ReadDir(dir)
	must(t, err)
	if len(entries) != 4 {
		t.Errorf("%d files were made: %v", len(entries), entries)
	}
	for _, e := range entries {
		info, err := e.Info()
		must(t, err)
		if info.Mode().Perm() != 0o600 {
			t.Errorf("%s has mode %v", e.Name(), info.Mode())
		}
		before[e.Name()], err = os.ReadFile(filepath.Join(dir, e.Name()))
		must(t, err)
	}
	if info, err := os.Stat(dir); err != nil || info.Mode().Perm() != 0o700 {
		t.Errorf("the folder: %v %v", info.Mode(), err)
	}
	_, err = Make(Request{Dir: dir, Names: []string{"other.example"}, Now: time.Now()})
	if err == nil || !strings.Contains(err.Error(), "is there already") || !strings.Contains(err.Error(), "Nothing was changed") || !strings.Contains(err.Error(), "--renew") {
		t.Errorf("made again: %v", err)
	}
	unchanged(t, dir, before)
	if m.Names[0] != "tagalong.shop.example" || !slices.Contains(m.Names, "localhost") {
		t.Errorf("names %v", m.Names)
	}
}

func unchanged(t *testing.T, dir string, before map[string][]byte) {
	t.Helper()
	for name, want := range before {
		if got, err := os.ReadFile(filepath.Join(dir, name)); err != nil || string(got) != string(want) {
			t.Errorf("%s was changed (%v)", name, err)
		}
	}
}

func TestRenewingKeepsTheAuthority(t *testing.T) {
	first, dir := made(t, "tagalong.shop.example", "192.168.1.20")
	read := func(path string) string {
		text, err := os.ReadFile(path)
		must(t, err)
		return string(text)
	}
	authority, server, key := read(first.Files.Authority), read(first.Files.Server), read(first.Files.ServerKey)
	later := time.Now().Add(390 * 24 * time.Hour)
	again, err := Make(Request{Dir: dir, Renew: true, Now: later})
	must(t, err)
	if read(first.Files.Authority) != authority || again.Fingerprint != first.Fingerprint {
		t.Error("renewing changed the authority")
	}
	if read(first.Files.Server) == server || read(first.Files.ServerKey) == key || !again.Ends.After(later.Add(390*24*time.Hour)) {
		t.Errorf("renewing made nothing new: it ends on %v", again.Ends)
	}
	if !slices.Equal(again.Names, first.Names) {
		t.Errorf("its names were %v, are %v", first.Names, again.Names)
	}
	if _, err := Make(Request{Dir: dir, Renew: true, Names: []string{"10.0.0.9"}, Now: later}); err != nil {
		t.Errorf("another private address: %v", err)
	}
	kept := read(first.Files.Server)
	for _, x := range []struct {
		name string
		r    Request
		says string
	}{
		{"another name", Request{Names: []string{"elsewhere.example"}, Now: later}, `can't vouch for "elsewhere.example"`},
		{"after its end", Request{Now: first.AuthorityEnds.Add(time.Hour)}, "ended on"},
		{"no name", Request{Names: []string{"https://tagalong.shop.example/"}, Now: later}, "without https://"},
	} {
		x.r.Dir, x.r.Renew = dir, true
		_, err := Make(x.r)
		if err == nil || !strings.Contains(err.Error(), x.says) || !strings.Contains(err.Error(), "Nothing was ") {
			t.Errorf("%s: %v", x.name, err)
		}
		if read(first.Files.Server) != kept {
			t.Errorf("%s: the certificate was changed", x.name)
		}
	}
	must(t, os.WriteFile(first.Files.AuthorityKey, []byte("no key"), 0o600))
	if _, err := Make(Request{Dir: dir, Renew: true, Now: later}); err == nil || !strings.Contains(err.Error(), "back from their backup") {
		t.Errorf("without the authority's key: %v", err)
	}
	other, _ := made(t, "tagalong.shop.example")
	must(t, os.WriteFile(first.Files.AuthorityKey, []byte(read(other.Files.AuthorityKey)), 0o600))
	if _, err := Make(Request{Dir: dir, Renew: true, Now: later}); err == nil || !strings.Contains(err.Error(), "not that of the certificate") {
		t.Errorf("with another authority's key: %v", err)
	}
}

func TestNames(t *testing.T) {
	n, err := parseNames([]string{"Shop-1.Example.", "192.168.1.20", "[fd00::1]", "shop-1.example", "::ffff:10.0.0.1"})
	must(t, err)
	if got := strings.Join(n.all(), " "); got != "shop-1.example localhost 192.168.1.20 fd00::1 10.0.0.1 127.0.0.1 ::1" {
		t.Errorf("read as %s", got)
	}
	for _, wrong := range []string{"", "https://shop.example", "shop.example:8443", "*.shop.example", "shop..example", "-shop.example",
		"192.168.1", "192.168.1.300", "shop_1.example", "bücher.example", strings.Repeat("a", 64) + ".example"} {
		if got, err := parseNames([]string{wrong}); err == nil {
			t.Errorf("%q is read as %v", wrong, got.all())
		}
	}
}
