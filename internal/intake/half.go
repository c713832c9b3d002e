package intake

import "fmt"

// completes says of each file that only adds to what another one begins which
// file that is: without it in the folder its lines are about nothing.
var completes = []struct{ file, begins, of string }{
	{"qualifications.csv", "people.csv", "people"},
	{"checks.csv", "routes.csv", "routes"},
	{"sampling.csv", "routes.csv", "routes"},
	{"bills.csv", "items.csv", "items"},
	{"finishes.csv", "items.csv", "items"},
	{"outlines.csv", "items.csv", "items"},
	{"lines.csv", "orders.csv", "orders"},
}

// half finds an import of which a part was left behind, and says so once and
// not for every line.
func (f *Folder) half() {
	var missing []string
	for _, c := range completes {
		t, there := f.tables[c.file]
		if _, begun := f.tables[c.begins]; !there || begun {
			continue
		}
		if t != nil && len(t.rows) == 0 {
			continue
		}
		f.faults.add(Fault{File: c.file, Got: fmt.Sprintf("lines about %s, and no %s beside it", c.of, c.begins),
			Want: fmt.Sprintf("%s in the same import: it says which %s they are", c.begins, c.of)})
		missing = append(missing, c.begins)
	}
	for _, name := range missing {
		f.tables[name] = nil // told once: what it lacks is no fault of every line
	}
}

// lacks reports, once, that things which are new to the shop come without the
// file that completes them.
func (r *reader) lacks(x row, file, things, of string) {
	x.t.sink.add(Fault{File: x.t.spec.file, Line: x.line, Got: things + " new to the shop, and no " + file + " beside it",
		Want: file + " in the same import, with " + of})
}
