package code

import (
	"net/url"
	"strings"
)

// A Place is what a sign names: a station, or a slot of the store that a
// station is. Both go by their own names, in capitals, not by a code: a name
// that was misread is known by being nobody's.
type Place struct {
	Station string // the station's id
	Slot    string // empty: the station itself
}

// PlaceAddress is the text of a sign's QR symbol:
//
//	PlaceAddress("https://tagalong.example:8443", Place{"WELD-1", ""})
//	HTTPS://TAGALONG.EXAMPLE:8443/T/WELD-1
//	PlaceAddress("https://tagalong.example:8443", Place{"STORE-1", "C4"})
//	HTTPS://TAGALONG.EXAMPLE:8443/T/STORE-1/C4
//
// What an address can't hold, or a symbol's alphanumeric mode, is written as
// RFC 3986, section 2.1, has it ("%20" for a space).
func PlaceAddress(base string, p Place) string {
	address := strings.ToUpper(strings.TrimRight(base, "/")) + "/" + string(Station) + "/" + escape(p.Station)
	if p.Slot != "" {
		address += "/" + escape(p.Slot)
	}
	return address
}

func escape(name string) string {
	var out strings.Builder
	for _, b := range []byte(strings.ToUpper(name)) {
		if b >= 'A' && b <= 'Z' || b >= '0' && b <= '9' || b == '-' || b == '.' {
			out.WriteByte(b)
			continue
		}
		const digits = "0123456789ABCDEF"
		out.Write([]byte{'%', digits[b>>4], digits[b&15]})
	}
	return out.String()
}

// ReadPlaces lists what the address of a sign may name, from a scanner, a camera
// or fingers. The host is ignored, as [ParseScan] does. More than one where a
// keyboard changed it and several readings are to be had; whose station exists
// is the right one. None for any other text.
func ReadPlaces(s string) []Place {
	text, err := clean(s)
	if err != nil {
		return nil
	}
	var out []Place
	if hasScheme(text) || strings.HasPrefix(text, "/") {
		if p, ok := readPlace(text); ok {
			out = append(out, p)
		}
		return out
	}
	for _, layout := range layouts {
		if was := undo(text, layout); hasScheme(was) {
			if p, ok := readPlace(was); ok {
				out = append(out, p)
			}
		}
	}
	return out
}

// readPlace reads …/T/STATION or …/T/STATION/SLOT, with a scheme or as a path.
func readPlace(text string) (p Place, ok bool) {
	path := text
	if hasScheme(text) {
		_, rest, _ := strings.Cut(text, "//")
		_, path, _ = strings.Cut(rest, "/")
	}
	parts := strings.Split(strings.Trim(path, "/"), "/")
	if len(parts) < 2 || len(parts) > 3 || parts[0] != string(Station) {
		return p, false
	}
	for i, into := range []*string{&p.Station, &p.Slot}[:len(parts)-1] {
		name, err := url.PathUnescape(parts[i+1])
		if name = strings.ToUpper(strings.TrimSpace(name)); err != nil || name == "" {
			return p, false
		}
		*into = name
	}
	return p, true
}

// longestName is the longest name of a place taken from fingers alone. What is
// longer is scanned off its sign.
const longestName = 12

// PlaceName reads what may be the typed name of a place, in capitals. It is not
// taken for one if it looks like one of our codes with a slip in it (a kind's
// letter first, and about as many symbols), like an article number (more than
// four digits in a row) or an address.
func PlaceName(s string) (name string, ok bool) {
	text, err := clean(s)
	if err != nil || len(text) > longestName || strings.ContainsAny(text, "/:") || strings.ContainsFunc(text, outsideAlphanumeric) {
		return "", false
	}
	if symbols := squeeze(text); symbols == "" || len(symbols) >= Length-1 && len(symbols) <= Length+1 && Kind(symbols[0]).Known() {
		return "", false
	}
	digits := 0
	for _, r := range text {
		if digits++; r < '0' || r > '9' {
			digits = 0
		}
		if digits > 4 {
			return "", false
		}
	}
	return text, true
}
