package certificate

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func TestWhatCannotBeServedIsSaid(t *testing.T) {
	m, dir := made(t, "tagalong.shop.example")
	other, _ := made(t, "tagalong.shop.example")
	file := func(name, text string) string {
		path := filepath.Join(dir, name)
		must(t, os.WriteFile(path, []byte(text), 0o600))
		return path
	}
	f, now := m.Files, time.Now()
	for _, x := range []struct {
		what, cert, key string
		now             time.Time
		says            string
	}{
		{"a missing certificate", filepath.Join(dir, "none.pem"), f.ServerKey, now, "no such file"},
		{"a missing key", f.Server, filepath.Join(dir, "none.pem"), now, "no such file"},
		{"an empty file", file("empty.pem", ""), f.ServerKey, now, "failed to find any PEM data"},
		{"no PEM", file("text.pem", "not a certificate\n"), f.ServerKey, now, "failed to find any PEM data"},
		{"a damaged one", file("damaged.pem", "-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n"), f.ServerKey, now, "no certificate with its key"},
		{"the two exchanged", f.ServerKey, f.Server, now, "switched"},
		{"another's key", f.Server, other.Files.ServerKey, now, "does not match"},
		{"one that has ended", f.Server, f.ServerKey, m.Ends.Add(time.Minute), "ended on " + day(m.Ends)},
		{"one that hasn't begun", f.Server, f.ServerKey, now.Add(-48 * time.Hour), "this machine's clock says"},
		{"one without a host", f.Authority, f.AuthorityKey, now, "names no host"},
	} {
		_, err := Load(x.cert, x.key, func() time.Time { return x.now }, nil)
		if err == nil {
			t.Errorf("%s is served", x.what)
			continue
		}
		for _, want := range []string{x.says, "Nothing is served", "all that is recorded is kept", "`tagalong certificate --dir DIR`"} {
			if !strings.Contains(err.Error(), want) {
				t.Errorf("%s: %v, without %q", x.what, err, want)
			}
		}
	}
	if _, err := ReadAuthority(filepath.Join(dir, "none.pem")); err == nil || !strings.Contains(err.Error(), "Nothing is served") {
		t.Errorf("a missing authority: %v", err)
	}
}

// TestRenewedCertificateIsServedWithoutARestart: and a broken one isn't.
func TestRenewedCertificateIsServedWithoutARestart(t *testing.T) {
	m, dir := made(t, "tagalong.shop.example")
	var told []error
	p, err := Load(m.Files.Server, m.Files.ServerKey, time.Now, func(err error) { told = append(told, err) })
	must(t, err)
	served := func() string {
		c, err := p.Get(nil)
		must(t, err)
		return c.Leaf.SerialNumber.String()
	}
	first := served()
	if served() != first || len(told) != 0 {
		t.Errorf("without a change: told %v", told)
	}
	_, err = Make(Request{Dir: dir, Renew: true, Now: time.Now()})
	must(t, err)
	second := served()
	if second == first || len(told) != 1 || told[0] != nil {
		t.Errorf("the renewed one is not served: told %v", told)
	}
	must(t, os.WriteFile(m.Files.Server, []byte("half a"), 0o600))
	for range 3 {
		if served() != second {
			t.Error("a broken one took the place of a good one")
		}
	}
	if len(told) != 2 || told[1] == nil {
		t.Errorf("told %v, want one error", told)
	}
	must(t, os.Remove(m.Files.Server))
	if served() != second || len(told) != 2 {
		t.Errorf("while the file is missing: told %v", told)
	}
	_, err = Make(Request{Dir: dir, Renew: true, Names: []string{"tagalong.shop.example"}, Now: time.Now()})
	must(t, err)
	if third := served(); third == second || p.Leaf().SerialNumber.String() != third || errors.Join(told[2:]...) != nil {
		t.Errorf("put right again: told %v", told)
	}
}
