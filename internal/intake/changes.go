package intake

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"tagalong/internal/core"
)

// Verdict is what an import would do with a line.
type Verdict string

// The verdicts.
const (
	New     Verdict = "new"
	Changed Verdict = "changed"
	Gone    Verdict = "taken out" // the shop has it and the file, which says all of its thing, has not
	Same    Verdict = "the same"
	Refused Verdict = "refused"
)

// FileChange is what an import would do with one file.
type FileChange struct {
	File    string
	Counts  map[Verdict]int
	Changes []LineChange // what is new, changed or taken out, in the order of the lines
}

// LineChange is one line that would change the shop.
type LineChange struct {
	Line    int // in the file, from 1; 0 where it is taken out, or split off for stock
	Verdict Verdict
	Name    string  // its key, as people read it: "RND-1 v2, step 30"
	Fields  []Field // new or taken out: what it says; changed: what differs
}

// Field is one field of a line that changes.
type Field struct {
	Column   string
	Old, New string
}

// Changes says, line by line, what storing what the last [Folder.Read] made
// would do to the shop that Read was told of. Where there were faults it says
// so of the lines that are right, as far as they go; nothing is then taken out,
// since a line may be missing that is only wrong.
func (f *Folder) Changes() []FileChange {
	before, after := written(f.out.asKnown(f.known)), written(f.out)
	var out []FileChange
	for _, sp := range specs {
		t, sent := f.tables[sp.file]
		if !sent || t == nil && f.lines[sp.file] == nil {
			continue
		}
		out = append(out, f.change(sp, t, keyed(sp, before[sp.file]), keyed(sp, after[sp.file])))
	}
	return out
}

// asKnown is what the shop has of the things a bundle brings.
func (b Bundle) asKnown(k Known) Bundle {
	var book core.Book
	if k.Book != nil {
		book = *k.Book
	}
	return Bundle{
		Stations:    old(b.Stations, func(x core.Station) (core.Station, bool) { v, ok := book.Stations[x.ID]; return v, ok }),
		People:      old(b.People, func(x core.Person) (core.Person, bool) { v, ok := book.People[x.ID]; return v, ok }),
		Instruments: old(b.Instruments, func(x core.Instrument) (core.Instrument, bool) { v, ok := book.Instruments[x.ID]; return v, ok }),
		Batches:     old(b.Batches, func(x core.Batch) (core.Batch, bool) { v, ok := book.Batches[x.Batch]; return v, ok }),
		Routes:      old(b.Routes, func(x core.Route) (core.Route, bool) { v, ok := book.Routes[x.RouteRef]; return v, ok }),
		Items:       old(b.Items, func(x core.Revision) (core.Revision, bool) { v, ok := book.Items[x.ItemRev]; return v, ok }),
		Orders:      old(b.Orders, func(x core.Order) (core.Order, bool) { v, ok := k.Orders[x.No]; return v, ok }),
		Nests:       old(b.Nests, func(x core.Nest) (core.Nest, bool) { v, ok := k.Nests[x.ID]; return v, ok }),
		// What came in once is never received again, whatever the line says of its slot.
		Sheets: old(b.Sheets, func(x Sheet) (Sheet, bool) { _, ok := k.Sheets[x.No]; return x, ok }),
		Bought: old(b.Bought, func(x Bought) (Bought, bool) { _, ok := k.Bought[x.No]; return x, ok }),
	}
}

func old[T any](all []T, known func(T) (T, bool)) []T {
	var out []T
	for _, x := range all {
		if was, ok := known(x); ok {
			out = append(out, was)
		}
	}
	return out
}

// outlines is the one file whose lines continue each other.
const outlines = "outlines.csv"

// keyedLines are the lines of one file under their keys, in order.
type keyedLines struct {
	keys []string
	at   map[string][]string
}

// keyed puts lines under their keys. Where a file may have several lines of one
// key, the second is told from the first by its number; an outline's lines are
// one ring, in as many parts as it takes.
func keyed(sp spec, lines [][]string) keyedLines {
	out := keyedLines{at: map[string][]string{}}
	seen, at := map[string]int{}, sp.keyAt()
	for _, values := range lines {
		var parts []string
		for _, i := range at {
			parts = append(parts, values[i])
		}
		key := strings.Join(parts, "\x00")
		if was, twice := out.at[key]; twice && sp.file == outlines {
			last := len(was) - 1
			was = slices.Clone(was)
			was[last] += ";" + values[last]
			out.at[key] = was
			continue
		}
		if seen[key]++; seen[key] > 1 {
			key += "\x00" + strconv.Itoa(seen[key])
		}
		out.keys = append(out.keys, key)
		out.at[key] = values
	}
	return out
}

func (f *Folder) change(sp spec, t *table, before, after keyedLines) FileChange {
	c := FileChange{File: sp.file, Counts: map[Verdict]int{}}
	refused := 0
	for line := range f.lines[sp.file] {
		if line > 1 {
			refused++
		}
	}
	c.Counts[Refused] = refused
	met := map[string]bool{}
	if t != nil {
		seen := map[string]int{}
		for _, x := range t.rows {
			key := x.keyText(sp)
			if seen[key]++; seen[key] > 1 && sp.file != outlines {
				key += "\x00" + strconv.Itoa(seen[key])
			}
			if f.refused(x) {
				met[key] = true
				continue
			}
			f.judge(&c, sp, x.line, key, met, before, after)
		}
	}
	for _, key := range after.keys {
		if !met[key] {
			f.judge(&c, sp, 0, key, met, before, after)
		}
	}
	if len(f.wrong) == 0 {
		for _, key := range before.keys {
			if _, stays := after.at[key]; !stays {
				c.add(sp, LineChange{Verdict: Gone}, before.at[key], nil)
			}
		}
	}
	slices.SortStableFunc(c.Changes, func(a, b LineChange) int { return cmp.Compare(a.Line, b.Line) })
	return c
}

// refused reports a fault anywhere in a line, which may be several on paper.
func (f *Folder) refused(x row) bool {
	wrong := f.lines[x.t.spec.file]
	return wrong[x.line] || slices.ContainsFunc(x.cells, func(c cell) bool { return wrong[c.line] })
}

// judge compares one line with what the shop has under its key.
func (f *Folder) judge(c *FileChange, sp spec, line int, key string, met map[string]bool, before, after keyedLines) {
	now, there := after.at[key]
	if !there {
		return // its thing was left out for another line's fault
	}
	was, known := before.at[key]
	first := !met[key]
	met[key] = true
	v := LineChange{Line: line, Verdict: New}
	switch {
	case known && slices.Equal(was, now):
		c.Counts[Same]++
		return
	case known:
		v.Verdict = Changed
	}
	if first {
		c.add(sp, v, was, now)
		return
	}
	c.Counts[v.Verdict]++ // a ring's next line: the ring has been told
}

func (c *FileChange) add(sp spec, v LineChange, was, now []string) {
	c.Counts[v.Verdict]++
	named := now
	if named == nil {
		named = was
	}
	v.Name = sp.nameOf(named)
	keys := sp.keyAt()
	for i, column := range sp.columns {
		if slices.Contains(keys, i) {
			continue
		}
		x := Field{Column: column.name}
		if was != nil {
			x.Old = was[i]
		}
		if now != nil {
			x.New = now[i]
		}
		if x.Old != x.New {
			v.Fields = append(v.Fields, x)
		}
	}
	c.Changes = append(c.Changes, v)
}

// keyText is a line's key as it would be written.
func (r row) keyText(sp spec) string {
	var out []string
	for _, i := range sp.keyAt() {
		c := sp.columns[i]
		s, _ := r.cell(c.name)
		switch c.kind {
		case whole:
			if n, err := strconv.Atoi(s); err == nil {
				s = some(n)
			}
		case decimal:
			if n, err := strconv.ParseFloat(s, 64); err == nil {
				s = someNumber(n)
			}
		}
		out = append(out, s)
	}
	return strings.Join(out, "\x00")
}

// nameOf is a line's key in words.
func (s spec) nameOf(values []string) string {
	var out []string
	for n, i := range s.keyAt() {
		switch name := s.columns[i].name; {
		case values[i] == "":
		case n == 0, name == "process", name == "metal", name == "face", name == "component", name == "check":
			out = append(out, values[i])
		case name == "max_thickness_mm":
			out = append(out, "to "+values[i]+" mm")
		default:
			out = append(out, strings.ReplaceAll(name, "_", " ")+" "+values[i])
		}
	}
	return strings.Join(out, ", ")
}
