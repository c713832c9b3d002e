package core

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// PhotosOf are the photos that go with what a command says, by name; see
// [ParsePhoto]. The record holds their names only; whoever asks for a decision
// has made sure that they are there.
func PhotosOf(b Body) []string {
	switch b := b.(type) {
	case ReportProblem:
		return b.Photos
	case SignOff:
		return b.Photos
	case Ship:
		return b.Photos
	case ReceiveAtSite:
		return b.Photos
	case WorkAtSite:
		return b.Photos
	case TurnUp:
		return b.Photos
	case ReportSnag:
		return b.Photos
	case PutRightSnag:
		return b.Photos
	case CloseSnag:
		return b.Photos
	}
	return nil
}

// Ring is an ellipse drawn round something on a photo: the box it fills, in
// percent of the photo's width and height. The zero Ring is none.
type Ring struct{ X, Y, W, H int }

// photoName is a photo's hash, and where a ring is drawn on it.
var photoName = regexp.MustCompile(`^([0-9a-f]{64})(?:#xywh=percent:(\d{1,3}),(\d{1,3}),(\d{1,3}),(\d{1,3}))?$`)

// ParsePhoto reads a photo's name: the SHA-256 of what is kept, as 64
// hexadecimal digits; where a ring is drawn on it, followed by that ring's box
// as a spatial media fragment (W3C Media Fragments URI 1.0, 4.2.2), such as
// "#xywh=percent:20,30,25,10". The picture itself has no ring.
func ParsePhoto(name string) (hash string, ring Ring, err error) {
	m := photoName.FindStringSubmatch(name)
	if m == nil {
		return "", Ring{}, fmt.Errorf("%.80q names no photo", name)
	}
	for i, n := range []*int{&ring.X, &ring.Y, &ring.W, &ring.H} {
		*n, _ = strconv.Atoi(m[i+2]) // three digits at most; none is 0
	}
	if ringed := strings.Contains(name, "#"); ringed && (ring.W == 0 || ring.H == 0 || ring.X+ring.W > 100 || ring.Y+ring.H > 100) {
		return "", Ring{}, fmt.Errorf("the ring of %.80q is not on the photo", name)
	}
	return m[1], ring, nil
}
