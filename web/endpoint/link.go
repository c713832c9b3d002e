package endpoint

import (
	"net/http"
	"strings"
)

// LinkAddress is the whole of a consignment's link, in the characters of a
// compact QR symbol: from the shop's printed address or, where none is set, as
// the page that makes it was asked for.
func LinkAddress(r *http.Request, base, token string) string {
	if base == "" {
		base = "http://" + r.Host
		if PageOf(r).Secure {
			base = "https://" + r.Host
		}
	}
	return strings.ToUpper(strings.TrimRight(base, "/")) + "/L/" + token
}
