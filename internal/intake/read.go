package intake

import (
	"fmt"
	"io/fs"

	"tagalong/internal/core"
)

// Read reads the CSV files at the top of a folder, whole. It returns the bundle
// and no fault, or an empty bundle and every fault up to [MaxFaults].
func Read(fsys fs.FS, known Known) (Bundle, []Fault) { return Open(fsys).Read(known) }

// reader gathers one folder. Its maps give the place in out of each key, so
// that a later file can name it.
type reader struct {
	known  Known
	tables map[string]*table
	sink   *sink
	out    Bundle

	routeAt map[core.RouteRef]int
	itemAt  map[core.ItemRev]int
	orderAt map[string]int
	itemRow map[core.ItemRev]row
	billRow map[core.ItemRev]row // the first line of its bill
	needs   map[core.ItemRev]map[core.ItemRev]int
}

// rows gives the lines of a file; none where it is absent or unusable.
func (r *reader) rows(file string) []row {
	if t := r.tables[file]; t != nil {
		return t.rows
	}
	return nil
}

// absent reports that a file is not in the folder: what it would say of a thing
// the shop knows stays as it is.
func (r *reader) absent(file string) bool {
	_, there := r.tables[file]
	return !there
}

// sound reports whether the file is absent or was read without leaving a line
// out. Where it was not, a key missing from it is not told as a second fault.
func (r *reader) sound(file string) bool {
	t, there := r.tables[file]
	return !there || t != nil && t.whole
}

// once records keys of one file and reports a second use of one.
type once map[string]row

func (o once) first(x row, field, what, key string) bool {
	if before, twice := o[key]; twice {
		x.fault(field, what+" again, first on line "+fmt.Sprint(before.line), "it once")
		return false
	}
	o[key] = x
	return true
}

// again reports a key the file gives in a form other than the stored one, for
// the things that never change once the shop has worked to them.
func again(x row, field, what, want string) {
	x.fault(field, what+" in another form than the shop has it", want)
}
