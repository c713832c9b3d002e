package server

import (
	"net/http"
	"testing"
)

// The network a request came from is the connection's; behind a proxy, the last
// address the proxy noted, whatever was written before it. Of an IPv6 address
// the first 64 bits count: whoever has one has as many of the rest as they like.
func TestWhereARequestComesFrom(t *testing.T) {
	for _, x := range []struct {
		remote, forwarded string
		proxy             bool
		want              string
	}{
		{"192.0.2.7:4711", "", false, "192.0.2.7"},
		{"192.0.2.7:4711", "198.51.100.1", false, "192.0.2.7"},
		{"10.0.0.2:4711", "203.0.113.9, 198.51.100.1", true, "198.51.100.1"},
		{"10.0.0.2:4711", "", true, "10.0.0.2"},
		{"[2001:db8:1:2:3:4:5:6]:4711", "", false, "2001:db8:1:2::/64"},
		{"[::ffff:192.0.2.7]:4711", "", false, "192.0.2.7"},
		{"@", "", false, "@"},
	} {
		r := &http.Request{RemoteAddr: x.remote, Header: http.Header{}}
		if x.forwarded != "" {
			r.Header.Set("X-Forwarded-For", x.forwarded)
		}
		if got := (&Server{behindTLS: x.proxy}).from(r); got != x.want {
			t.Errorf("%+v: %s", x, got)
		}
	}
}
