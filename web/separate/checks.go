package separate

import (
	"strconv"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// checkSet is what is asked of the parts of one line, or of the sheet's own step,
// on one face.
type checkSet struct {
	title  string
	line   string // of the nest; empty: the sheet's own step
	field  string // where its readings stand in the command
	first  int    // of them, the place of the first one here
	checks []core.Characteristic
}

// checkRoom is how many lines of checks and their headings fit a face.
const checkRoom = 7

// checkFaces puts all that is asked on as few faces as it fits.
func (v sheetView) checkFaces() [][]checkSet {
	var p checkPacker
	p.add(checkSet{title: "The sheet", field: "checks"}, v.page.Checks)
	for n, l := range v.page.Lines {
		p.add(checkSet{title: app.Named(l.Qty, l.Revision.Name), line: strconv.Itoa(n), field: tick(n, "checks")}, l.Checks)
	}
	return p.faces
}

type checkPacker struct {
	faces [][]checkSet
	room  int
}

// add puts characteristics under a heading, which is said again where they go on
// on the next face.
func (p *checkPacker) add(set checkSet, cs []core.Characteristic) {
	open := false
	for i, c := range cs {
		takes := app.CheckRoom(c)
		if !open {
			takes++
		}
		if takes > p.room {
			p.faces, p.room = append(p.faces, nil), checkRoom
			open, takes = false, app.CheckRoom(c)+1
		}
		p.room -= takes
		face := &p.faces[len(p.faces)-1]
		if !open {
			set.first, set.checks, open = i, nil, true
			*face = append(*face, set)
		}
		last := &(*face)[len(*face)-1]
		last.checks = append(last.checks, c)
	}
}
