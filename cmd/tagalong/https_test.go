package main

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"io"
	"math/big"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"tagalong/internal/certificate"
)

// ownPair writes a certificate that signs itself, with its key, by crypto/x509
// alone, and returns their paths and a pool that trusts it.
func ownPair(t *testing.T, ends time.Time) (certFile, keyFile string, trust *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	must(t, err)
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "a test"}, NotBefore: ends.Add(-48 * time.Hour), NotAfter: ends,
		KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		BasicConstraintsValid: true, IsCA: true, DNSNames: []string{"localhost"}, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, key.Public(), key)
	must(t, err)
	keyDER, err := x509.MarshalPKCS8PrivateKey(key)
	must(t, err)
	dir := t.TempDir()
	certFile, keyFile = filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	text := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	must(t, os.WriteFile(certFile, text, 0o600))
	must(t, os.WriteFile(keyFile, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: keyDER}), 0o600))
	trust = x509.NewCertPool()
	trust.AppendCertsFromPEM(text)
	return certFile, keyFile, trust
}

// served runs `tagalong serve` until the test ends and returns its address.
func served(t *testing.T, l *line) string {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	out, log := &lockedBuffer{}, &lockedBuffer{}
	ended := make(chan int, 1)
	go func() { ended <- run(ctx, []string{"serve"}, l.getenv, out, log) }()
	t.Cleanup(func() {
		stop()
		if code := <-ended; code != 0 {
			t.Errorf("it stopped with %d:\n%s", code, log)
		}
	})
	address := regexp.MustCompile(`answers at (\S+)`)
	for deadline := time.Now().Add(30 * time.Second); ; time.Sleep(10 * time.Millisecond) {
		if m := address.FindStringSubmatch(out.String()); m != nil {
			return m[1]
		}
		if time.Now().After(deadline) {
			t.Fatalf("it never said where it answers:\n%s%s", out, log)
		}
	}
}

// visitor is a browser that trusts some authorities and no others.
func visitor(t *testing.T, base string, trust *x509.CertPool) *browser {
	t.Helper()
	jar, err := cookiejar.New(nil)
	must(t, err)
	transport := &http.Transport{TLSClientConfig: &tls.Config{RootCAs: trust}, ForceAttemptHTTP2: true}
	t.Cleanup(transport.CloseIdleConnections)
	return &browser{t, &testShop{t: t, url: base}, &http.Client{
		Jar: jar, Transport: transport, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}
}

var shownBadge = regexp.MustCompile(`Badge, shown this once:\s+(\S+)`)

// TestServesHTTPS runs the command itself with a certificate of the shop's own:
// the first admin signs in over it and gets a cookie that never goes plain.
func TestServesHTTPS(t *testing.T) {
	l := newLine(t)
	var trust *x509.CertPool
	l.env["TAGALONG_CERTIFICATE"], l.env["TAGALONG_CERTIFICATE_KEY"], trust = ownPair(t, time.Now().Add(24*time.Hour))
	said := l.ok("people", "first-admin", "--name", "Ansa Brookline")
	badge, code := shownBadge.FindStringSubmatch(said)[1], shownCode.FindString(said)
	base := served(t, l)
	if !strings.HasPrefix(base, "https://127.0.0.1:") {
		t.Fatalf("it answers at %s", base)
	}
	b := visitor(t, base, trust)
	got := b.get("/healthz")
	if got.StatusCode != http.StatusOK || got.TLS == nil || got.TLS.Version < tls.VersionTLS12 || got.Proto != "HTTP/2.0" {
		t.Errorf("%d over %s, TLS %+v", got.StatusCode, got.Proto, got.TLS)
	}
	// RFC 6797, section 6.1: the directive max-age is required, in seconds.
	if sts := got.Header.Get("Strict-Transport-Security"); !regexp.MustCompile(`^max-age=[1-9]\d*$`).MatchString(sts) {
		t.Errorf("Strict-Transport-Security %q", sts)
	}
	if got := b.form("/set-pin", url.Values{"badge": {badge}, "code": {code}, "pin": {pin}, "again": {pin}}); got.StatusCode != http.StatusOK {
		t.Fatalf("set the PIN: %d %s", got.StatusCode, got.body)
	}
	got = b.form("/signin", url.Values{"badge": {badge}, "pin": {pin}})
	if got.StatusCode != http.StatusSeeOther || len(got.Cookies()) != 1 {
		t.Fatalf("sign in: %d with %d cookies", got.StatusCode, len(got.Cookies()))
	}
	if c := got.Cookies()[0]; !c.Secure || !c.HttpOnly || !strings.HasPrefix(c.Name, "__Host-") {
		t.Errorf("the cookie is %s", c)
	}
	if got := b.get("/tablets"); got.StatusCode != http.StatusOK || strings.Contains(got.body, "authority.cer") {
		t.Errorf("the tablets: %d, and an authority is offered though there is none: %s", got.StatusCode, got.body)
	}
	if got := b.get("/authority.cer"); got.StatusCode != http.StatusNotFound {
		t.Errorf("an authority there isn't: %d", got.StatusCode)
	}

	plain, err := http.Get("http" + strings.TrimPrefix(base, "https") + "/signin")
	must(t, err)
	text, err := io.ReadAll(plain.Body)
	must(t, err)
	must(t, plain.Body.Close())
	if plain.StatusCode != http.StatusBadRequest || len(plain.Cookies()) > 0 || strings.Contains(string(text), "<form") {
		t.Errorf("plain HTTP on the same port: %d %s", plain.StatusCode, text)
	}
	stranger := visitor(t, base, x509.NewCertPool())
	if _, err := stranger.http.Get(base + "/healthz"); err == nil || !strings.Contains(err.Error(), "unknown authority") {
		t.Errorf("somebody who doesn't trust the certificate: %v", err)
	}

	l.env["TAGALONG_LISTEN"] = strings.TrimPrefix(base, "https://")
	if out := l.ok("healthy"); out != "healthy\n" {
		t.Errorf("healthy said %q", out)
	}
	l.env["TAGALONG_CERTIFICATE"], l.env["TAGALONG_CERTIFICATE_KEY"], _ = ownPair(t, time.Now().Add(24*time.Hour))
	l.fails(1, "another certificate is served", "healthy")
}

// TestPlainHTTPPromisesNothing: no browser is told to insist on HTTPS that there isn't.
func TestPlainHTTPPromisesNothing(t *testing.T) {
	s := newShop(t)
	if got := s.browser().get("/signin"); got.Header.Get("Strict-Transport-Security") != "" {
		t.Errorf("over plain HTTP: %q", got.Header.Get("Strict-Transport-Security"))
	}
}

// TestNothingStartsWithoutItsCertificate: said before anything else is begun.
func TestNothingStartsWithoutItsCertificate(t *testing.T) {
	ended, key, _ := ownPair(t, time.Now().Add(-24*time.Hour))
	for name, x := range map[string]struct {
		env  map[string]string
		says string
	}{
		"missing":       {map[string]string{"TAGALONG_CERTIFICATE": "/nowhere/a.pem", "TAGALONG_CERTIFICATE_KEY": key}, "no such file"},
		"ended":         {map[string]string{"TAGALONG_CERTIFICATE": ended, "TAGALONG_CERTIFICATE_KEY": key}, "ended on"},
		"empty folder":  {map[string]string{"TAGALONG_CERTIFICATE_DIR": t.TempDir()}, "server.pem: no such file"},
		"both settings": {map[string]string{"TAGALONG_CERTIFICATE_DIR": t.TempDir(), "TAGALONG_CERTIFICATE": ended, "TAGALONG_CERTIFICATE_KEY": key}, "instead of"},
	} {
		for _, command := range []string{"serve", "demo"} {
			x.env["TAGALONG_DATA"] = filepath.Join(t.TempDir(), "data")
			code, out, log := tagalong(t, x.env, command)
			if code == 0 || !strings.Contains(log, x.says) || !strings.Contains(strings.ToLower(log), "nothing ") {
				t.Errorf("%s, %s: %d %s%s", name, command, code, out, log)
			}
			if _, err := os.Stat(x.env["TAGALONG_DATA"]); err == nil {
				t.Errorf("%s: %s began a database", name, command)
			}
		}
	}
}

// TestOwnAuthority goes the way of a shop without a certificate from elsewhere:
// make it, serve with it, fetch the authority from the page of tablets, trust it.
func TestOwnAuthority(t *testing.T) {
	l := newLine(t)
	dir := filepath.Join(t.TempDir(), "https")
	said := l.ok("certificate", "--dir", dir, "--name", "tagalong.shop.example", "--name", "127.0.0.1")
	for _, want := range []string{"tagalong.shop.example, localhost, 127.0.0.1", "fingerprint", "TAGALONG_CERTIFICATE_DIR=" + dir,
		"https://tagalong.shop.example:8443/authority.cer", "--renew", certificate.In(dir).AuthorityKey} {
		if !strings.Contains(said, want) {
			t.Errorf("certificate said, without %q:\n%s", want, said)
		}
	}
	l.fails(1, "is there already", "certificate", "--dir", dir, "--name", "tagalong.shop.example")
	l.fails(2, "--dir is missing", "certificate")
	l.fails(1, "without https://", "certificate", "--dir", filepath.Join(dir, "other"), "--name", "https://shop.example")

	l.env["TAGALONG_CERTIFICATE_DIR"] = dir
	admin := l.ok("people", "first-admin", "--name", "Ansa Brookline")
	base := served(t, l)
	// The tablet's first visit: past the warning, for the public half alone.
	first := visitor(t, base, nil)
	first.http.Transport = &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}
	got := first.get("/authority.cer")
	if got.StatusCode != http.StatusOK || got.Header.Get("Content-Type") != "application/pkix-cert" {
		t.Fatalf("the authority: %d %v", got.StatusCode, got.Header)
	}
	given, err := x509.ParseCertificate([]byte(got.body))
	must(t, err)
	print := certificate.Fingerprint(given)
	if !strings.Contains(said, print) {
		t.Errorf("given is %s, told was:\n%s", print, said)
	}
	trust := x509.NewCertPool()
	trust.AddCert(given)
	b := visitor(t, base, trust)
	badge, code := shownBadge.FindStringSubmatch(admin)[1], shownCode.FindString(admin)
	b.form("/set-pin", url.Values{"badge": {badge}, "code": {code}, "pin": {pin}, "again": {pin}})
	b.form("/signin", url.Values{"badge": {badge}, "pin": {pin}})
	ends := time.Now().Add(certificate.ServerLasts - time.Hour).UTC().Format("2 January 2006")
	got = b.get("/tablets")
	got.body = strings.ReplaceAll(got.body, "<wbr>", "")
	if !strings.Contains(got.body, `href="/authority.cer"`) || !strings.Contains(got.body, print) || !strings.Contains(got.body, ends) {
		t.Errorf("the page of tablets, without the authority, %s or %s: %d %s", print, ends, got.StatusCode, got.body)
	}
	number := func() string {
		b.http.CloseIdleConnections()
		return b.get("/healthz").TLS.PeerCertificates[0].SerialNumber.String()
	}
	before := number()
	if said := l.ok("certificate", "--renew"); !strings.Contains(said, "tablets need nothing") {
		t.Errorf("renewing said:\n%s", said)
	}
	if after := number(); after == before {
		t.Error("the server serves the old certificate on")
	}
}
