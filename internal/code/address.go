package code

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"
)

// Alphanumeric is the character set of a QR symbol's alphanumeric mode, in the
// order of its values (ISO/IEC 18004, alphanumeric mode).
const Alphanumeric = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"

// MaxPrint is the largest print number an address holds.
const MaxPrint = 999999

// maxBase keeps a symbol small enough for a label: with it the longest
// address is 84 characters, which fits version 6 (41 modules) at level H.
const maxBase = 66

// Address is the text of a QR symbol for print number print of a code:
//
//	Address("https://tagalong.example:8443", c, 2)
//	HTTPS://TAGALONG.EXAMPLE:8443/P/P4K7M2QX/2
//
// With print 0 or less (a station's sign) the last part is left out. The base
// should have passed CheckBase.
func Address(base string, c Code, print int) string {
	address := strings.ToUpper(strings.TrimRight(base, "/")) + "/" + string(c[:1]) + "/" + string(c)
	if print > 0 {
		address += "/" + strconv.Itoa(print)
	}
	return address
}

// CheckBase reports whether base can be the start of printed addresses: an
// http or https address of a host, without path, query or user, in characters
// that survive upper case and fit a QR symbol's alphanumeric mode.
func CheckBase(base string) error {
	u, err := url.Parse(base)
	switch {
	case err != nil:
		return fmt.Errorf("the printed address %q can't be read: %w", base, err)
	case u.Scheme != "http" && u.Scheme != "https" || u.Host == "":
		return fmt.Errorf("the printed address %q must look like https://host:port", base)
	case strings.Trim(u.Path, "/") != "" || u.RawQuery != "" || u.Fragment != "" || u.User != nil:
		return fmt.Errorf("the printed address %q must end after the host and port", base)
	case len(base) > maxBase:
		return fmt.Errorf("the printed address %q is longer than %d characters, too long for a small label", base, maxBase)
	}
	if i := strings.IndexFunc(strings.ToUpper(base), outsideAlphanumeric); i >= 0 {
		return fmt.Errorf("the printed address %q holds %q, which a QR symbol can't hold in its compact form", base, base[i])
	}
	return nil
}

func outsideAlphanumeric(r rune) bool { return !strings.ContainsRune(Alphanumeric, r) }
