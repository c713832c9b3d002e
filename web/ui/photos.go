package ui

import (
	"fmt"
	"strconv"

	"github.com/a-h/templ"

	"tagalong/internal/core"
)

// shownPhoto is a kept photo as a page shows it.
type shownPhoto struct {
	thumb, href, alt string
	ringed           bool
	ellipse          templ.Attributes // of the ring, in percent of the picture
}

func newShownPhoto(i int, name string) shownPhoto {
	hash, r, err := core.ParsePhoto(name)
	if err != nil { // none of ours: nothing is kept under it
		hash = name
	}
	p := shownPhoto{thumb: "/photos/" + hash + "/thumb", href: "/photos/" + hash, alt: "Photo " + strconv.Itoa(i+1)}
	if r == (core.Ring{}) {
		return p
	}
	p.ringed, p.alt = true, p.alt+", with a ring round what is wrong"
	p.href = fmt.Sprintf("/photos/%s/ringed/%d,%d,%d,%d", hash, r.X, r.Y, r.W, r.H)
	half := func(n int) string { return strconv.FormatFloat(float64(n)/2, 'f', -1, 64) }
	p.ellipse = templ.Attributes{"cx": half(2*r.X + r.W), "cy": half(2*r.Y + r.H), "rx": half(r.W), "ry": half(r.H)}
	return p
}
