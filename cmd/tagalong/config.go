package main

import (
	"fmt"
	"net"

	"tagalong/internal/certificate"
	"tagalong/internal/code"
	"tagalong/internal/privatepg"
)

// config is the settings, read from the environment.
type config struct {
	Listen      string // host:port to serve on
	Data        string // folder of the private database and the server key
	DatabaseURL string // empty: the private database in Data
	Address     string // base of printed addresses; empty: what the shop's row says
	Certificate string // PEM files; both or neither
	Key         string
	// CertificateDir is a folder `tagalong certificate` made; Certificate and
	// Key are then those in it.
	CertificateDir string
	BehindTLS      bool
}

// settings are the environment's, as help shows them.
var settings = []struct{ name, doc string }{
	{"TAGALONG_LISTEN", "where to serve, host:port (127.0.0.1:8080)"},
	{"TAGALONG_DATA", "folder of the private database and the server key"},
	{"TAGALONG_DATABASE_URL", "another PostgreSQL database, instead of a private one"},
	{"TAGALONG_ADDRESS", "what printed addresses begin with, such as https://tagalong.shop.example"},
	{"TAGALONG_CERTIFICATE", "PEM file of the certificate to serve HTTPS with"},
	{"TAGALONG_CERTIFICATE_KEY", "PEM file of its key"},
	{"TAGALONG_CERTIFICATE_DIR", "instead of these two: a folder that tagalong certificate made"},
	{"TAGALONG_BEHIND_TLS", "yes: a proxy in front ends HTTPS and sets X-Forwarded-Proto"},
}

func readConfig(getenv func(string) string) (config, error) {
	c := config{
		Listen: getenv("TAGALONG_LISTEN"), Data: getenv("TAGALONG_DATA"), DatabaseURL: getenv("TAGALONG_DATABASE_URL"),
		Address: getenv("TAGALONG_ADDRESS"), Certificate: getenv("TAGALONG_CERTIFICATE"), Key: getenv("TAGALONG_CERTIFICATE_KEY"),
		CertificateDir: getenv("TAGALONG_CERTIFICATE_DIR"),
	}
	if c.Listen == "" {
		c.Listen = "127.0.0.1:8080"
	}
	if _, _, err := net.SplitHostPort(c.Listen); err != nil {
		return c, fmt.Errorf("TAGALONG_LISTEN %q is no host:port: %w. Nothing was done", c.Listen, err)
	}
	if c.Data == "" {
		dir, err := privatepg.DefaultDataDir()
		if err != nil {
			return c, err
		}
		c.Data = dir
	}
	if c.Address != "" {
		if err := code.CheckBase(c.Address); err != nil {
			return c, fmt.Errorf("TAGALONG_ADDRESS: %w. Nothing was done", err)
		}
	}
	if (c.Certificate == "") != (c.Key == "") {
		return c, usage("TAGALONG_CERTIFICATE and TAGALONG_CERTIFICATE_KEY go together")
	}
	if c.CertificateDir != "" {
		if c.Certificate != "" {
			return c, usage("TAGALONG_CERTIFICATE_DIR stands instead of TAGALONG_CERTIFICATE and TAGALONG_CERTIFICATE_KEY, not beside them")
		}
		files := certificate.In(c.CertificateDir)
		c.Certificate, c.Key = files.Server, files.ServerKey
	}
	switch v := getenv("TAGALONG_BEHIND_TLS"); v {
	case "", "no":
	case "yes":
		c.BehindTLS = true
	default:
		return c, usage("TAGALONG_BEHIND_TLS is yes or no, not %q", v)
	}
	return c, nil
}
