package main

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"flag"
	"fmt"
	"log/slog"
	"net/url"
	"os"
	"strings"
	"time"

	"tagalong/internal/certificate"
	"tagalong/web/endpoint"
	"tagalong/web/server"
)

// renewWithin is how long before its end a certificate is called due.
const renewWithin = 30 * 24 * time.Hour

// makeCertificate makes an authority and a server certificate for the shop's
// own network, or renews the latter.
func makeCertificate(_ context.Context, e env, args []string) error {
	request := certificate.Request{Now: time.Now()}
	err := flags(e, "certificate", args, func(set *flag.FlagSet) {
		set.StringVar(&request.Dir, "dir", e.config.CertificateDir, "the folder to write to")
		set.BoolVar(&request.Renew, "renew", false, "keep the authority, make the server certificate anew")
		set.Func("name", "a host name or IP address the server is reached by; may be given again", func(name string) error {
			request.Names = append(request.Names, name)
			return nil
		})
	})
	if err != nil {
		return err
	}
	if request.Dir == "" {
		return usage("--dir is missing: the folder to write to")
	}
	if len(request.Names) == 0 && !request.Renew {
		if request.Names, err = ownName(e.config.Address); err != nil {
			return err
		}
	}
	made, err := certificate.Make(request)
	if err != nil {
		return err
	}
	tellCertificate(e, request, made)
	return nil
}

// ownName is the name the server is most likely reached by.
func ownName(address string) ([]string, error) {
	if u, err := url.Parse(address); err == nil && u.Hostname() != "" {
		return []string{u.Hostname()}, nil
	}
	host, err := os.Hostname()
	if err != nil {
		return nil, fmt.Errorf("this machine has no name: %w. Nothing was made. Name the server with --name", err)
	}
	return []string{host}, nil
}

func tellCertificate(e env, r certificate.Request, made certificate.Made) {
	day := func(t time.Time) string { return t.UTC().Format("2 January 2006") }
	fmt.Fprintf(e.out, "The server certificate in %s is for %s and lasts until %s.\n", r.Dir, strings.Join(made.Names, ", "), day(made.Ends))
	if r.Renew {
		fmt.Fprintf(e.out, "The authority is the one before, so tablets need nothing. A server that runs serves the new certificate from now on.\n")
		return
	}
	fmt.Fprintf(e.out, `The authority lasts until %s. It vouches for these names and for private addresses only. Its SHA-256 fingerprint:
  %s

Serve with it:
  TAGALONG_CERTIFICATE_DIR=%s TAGALONG_LISTEN=0.0.0.0:8443 tagalong serve

On each tablet, once:
  1. Bring %s to it, or open https://%s:8443%s there and go past the browser's warning this once.
  2. Compare the fingerprint with the one above.
  3. Install it as a trusted authority, in the tablet's settings for certificates.

Each year, before the certificate ends:
  tagalong certificate --dir %s --renew
Only that needs %s: keep it away from the server and from everybody.
`, day(made.AuthorityEnds), made.Fingerprint, r.Dir, made.Files.Authority, made.Names[0], server.AuthorityPath, r.Dir, made.Files.AuthorityKey)
}

// secure is what a server needs to serve HTTPS; nil to serve plain HTTP.
type secure struct {
	pair      *certificate.Pair
	authority *x509.Certificate // nil where a shop has its certificate from elsewhere
}

// readSecure reads the certificate the settings name. It is asked for before
// anything else is started.
func readSecure(c config, log *slog.Logger) (*secure, error) {
	if c.Certificate == "" {
		return nil, nil
	}
	changed := func(err error) {
		if err != nil {
			log.Error("the certificate has changed and can't be used; the one before is served on", "error", err)
			return
		}
		log.Info("the certificate has changed; the new one is served from now on")
	}
	pair, err := certificate.Load(c.Certificate, c.Key, time.Now, changed)
	if err != nil {
		return nil, err
	}
	s := &secure{pair: pair}
	if c.CertificateDir != "" {
		if s.authority, err = certificate.ReadAuthority(certificate.In(c.CertificateDir).Authority); err != nil {
			return nil, err
		}
	}
	if ends := pair.Leaf().NotAfter; time.Until(ends) < renewWithin {
		log.Warn("the certificate ends soon: renew it, with `tagalong certificate --renew` if that made it", "ends", ends.UTC().Format(time.DateOnly))
	}
	return s, nil
}

func (s *secure) config() *tls.Config { return &tls.Config{GetCertificate: s.pair.Get} }

// offer is what the pages tell of the authority; nil where there is none.
func (s *secure) offer() func() endpoint.Authority {
	if s == nil || s.authority == nil {
		return nil
	}
	return func() endpoint.Authority {
		return endpoint.Authority{DER: s.authority.Raw, Fingerprint: certificate.Fingerprint(s.authority), Ends: s.pair.Leaf().NotAfter}
	}
}

// pinned trusts the certificate in a file and no other, whoever signed it: for
// the server's own machine, which need not trust the authority.
func pinned(certFile, keyFile string) (*tls.Config, error) {
	pair, err := tls.LoadX509KeyPair(certFile, keyFile)
	if err != nil {
		return nil, fmt.Errorf("read the certificate: %w", err)
	}
	return &tls.Config{
		InsecureSkipVerify: true, // VerifyConnection is stricter: this very certificate
		VerifyConnection: func(s tls.ConnectionState) error {
			if len(s.PeerCertificates) == 0 || !s.PeerCertificates[0].Equal(pair.Leaf) {
				return errors.New("another certificate is served than the one TAGALONG_CERTIFICATE names")
			}
			return nil
		},
	}, nil
}
