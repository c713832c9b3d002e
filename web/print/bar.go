package print

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"tagalong/internal/paper"
	"tagalong/internal/paperwork"
)

// bar is what the screen shows above the sheet; it is not printed.
type bar struct {
	shown bool
	back  string // page to go back to; empty: none
	path  string // of the pallet's traveller, without ending
	print int
	size  paper.Size
	id    string // of the command that numbers another print
	stale string // why this print must not be used; empty: it may
}

func barOf(s paperwork.Sheet, r *http.Request, size paper.Size) bar {
	b := bar{
		shown: true, back: ownPath(r.URL.Query().Get("back")), path: "/pallets/" + bare(s.Code) + "/traveller",
		print: s.Print, size: size, id: uuid.NewString(),
	}
	switch {
	case len(s.Changes) > 0:
		b.stale = "Out of date: " + strings.Join(s.Changes, "; ") + ". Print the traveller again before the pallet goes on."
	case s.Stale():
		b.stale = "This print was replaced by print " + strconv.Itoa(s.Newest) + "."
	}
	return b
}

// pdf is where the print is as a file.
func (b bar) pdf() string {
	return b.path + ".pdf?print=" + strconv.Itoa(b.print) + "&size=" + b.size.String()
}

// container is where the pallet's container label is.
func (b bar) container() string { return strings.TrimSuffix(b.path, "/traveller") + "/container.pdf" }

// on is this page with another size of paper chosen.
func (b bar) on(z paper.Size) string {
	out := b.path + ".html?print=" + strconv.Itoa(b.print) + "&size=" + z.String()
	if b.back != "" {
		out += "&back=" + url.QueryEscape(b.back)
	}
	return out
}

// paper is a class that says what the page is printed on; none is A4.
func (b bar) paper() string {
	if !b.shown || b.onA4() {
		return ""
	}
	return "on-" + b.size.String()
}

// onA4 reports whether the page itself is what is printed.
func (b bar) onA4() bool { return b.size == paper.A4 }
