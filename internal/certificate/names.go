package certificate

import (
	"fmt"
	"net/netip"
	"slices"
	"strings"
)

// own are the names of the machine itself, which every server certificate has.
var own = []string{"localhost", "127.0.0.1", "::1"}

// private are the addresses that mean something inside a network only: RFC 1918, RFC 4193, and the loopback and
// link-local ones of RFC 6890.
var private = []netip.Prefix{
	netip.MustParsePrefix("10.0.0.0/8"), netip.MustParsePrefix("172.16.0.0/12"), netip.MustParsePrefix("192.168.0.0/16"),
	netip.MustParsePrefix("169.254.0.0/16"), netip.MustParsePrefix("127.0.0.0/8"),
	netip.MustParsePrefix("fc00::/7"), netip.MustParsePrefix("fe80::/10"), netip.MustParsePrefix("::1/128"),
}

// names are what a certificate is for.
type names struct {
	hosts     []string
	addresses []netip.Addr
}

// parseNames reads host names and IP addresses, and adds the machine's own.
func parseNames(given []string) (names, error) {
	var n names
	for _, name := range append(slices.Clone(given), own...) {
		name = strings.ToLower(strings.TrimSuffix(strings.TrimSpace(name), "."))
		if a, err := netip.ParseAddr(strings.Trim(name, "[]")); err == nil {
			if a = a.Unmap().WithZone(""); !slices.Contains(n.addresses, a) {
				n.addresses = append(n.addresses, a)
			}
			continue
		}
		if !isHost(name) {
			return names{}, fmt.Errorf("%q is neither a host name nor an IP address: give it alone, such as tagalong.shop.example "+
				"or 192.168.1.20, without https:// or a port. Nothing was made", name)
		}
		if !slices.Contains(n.hosts, name) {
			n.hosts = append(n.hosts, name)
		}
	}
	return n, nil
}

// isHost reports whether a name is a host's: letters, digits and hyphens between dots (RFC 1123, section 2.1).
func isHost(name string) bool {
	if name == "" || len(name) > 253 {
		return false
	}
	numeric := true
	for label := range strings.SplitSeq(name, ".") {
		if label == "" || len(label) > 63 || label[0] == '-' || label[len(label)-1] == '-' {
			return false
		}
		for _, c := range label {
			if (c < 'a' || c > 'z') && (c < '0' || c > '9') && c != '-' {
				return false
			}
		}
		numeric = numeric && strings.Trim(label, "0123456789") == ""
	}
	return !numeric // "192.168.1" is an address mistyped, no name
}

// all are the names as text, hosts first.
func (n names) all() []string {
	out := slices.Clone(n.hosts)
	for _, a := range n.addresses {
		out = append(out, a.String())
	}
	return out
}
