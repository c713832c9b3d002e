package main

import (
	"context"
	"flag"
	"fmt"
	"net"
	"net/http"
	"time"
)

// healthy asks the running server how it is, for containers and supervisors
// that know no HTTP: exit 0 when it and its database answer.
func healthy(ctx context.Context, e env, args []string) error {
	if err := flags(e, "healthy", args, func(*flag.FlagSet) {}); err != nil {
		return err
	}
	host, port, err := net.SplitHostPort(e.config.Listen)
	if err != nil {
		return err
	}
	if ip := net.ParseIP(host); host == "" || (ip != nil && ip.IsUnspecified()) {
		host = "127.0.0.1"
	}
	ctx, cancel := context.WithTimeout(ctx, 3*time.Second)
	defer cancel()
	scheme, client := "http", &http.Client{}
	if e.config.Certificate != "" {
		tls, err := pinned(e.config.Certificate, e.config.Key)
		if err != nil {
			return err
		}
		scheme, client.Transport = "https", &http.Transport{TLSClientConfig: tls}
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, scheme+"://"+net.JoinHostPort(host, port)+"/healthz", nil)
	if err != nil {
		return err
	}
	answer, err := client.Do(req)
	if err != nil {
		return fmt.Errorf("no server answers on %s: %w", e.config.Listen, err)
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		return fmt.Errorf("the server on %s answers %s", e.config.Listen, answer.Status)
	}
	fmt.Fprintln(e.out, "healthy")
	return nil
}
