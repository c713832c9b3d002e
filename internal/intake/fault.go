package intake

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode/utf8"
)

// MaxFaults is how many faults Read lists; the last entry counts the rest.
const MaxFaults = 200

// Fault is one thing wrong with the files: where, what stands there, and what
// would be right.
type Fault struct {
	File   string // name in the folder; empty where the folder itself is meant
	Line   int    // physical line, from 1; 0 where the whole file is meant
	Column int    // field of that line, from 1, as a spreadsheet counts; 0 where the whole line is meant
	Field  string // the column's name
	Got    string // what was found, as a phrase
	Want   string // what would be right, as a phrase
	More   int    // set on the last entry only: faults found beyond MaxFaults
}

// String is the fault as a plain sentence.
func (f Fault) String() string {
	if f.More > 0 {
		return fmt.Sprintf("%d more faults are not listed: put these right and read the folder again.", f.More)
	}
	return place(f.File, f.Line, f.Column, f.Field) + ": found " + f.Got + "; expected " + f.Want + "."
}

// Error makes a Fault an error.
func (f Fault) Error() string { return f.String() }

// Note is something worth knowing that stops nothing.
type Note struct {
	File string
	Line int
	Text string // a sentence
}

// String is the note as a plain sentence, with its place.
func (n Note) String() string { return place(n.File, n.Line, 0, "") + ": " + n.Text }

func place(file string, line, column int, field string) string {
	var b strings.Builder
	b.WriteString(cmp.Or(file, "the folder"))
	if line > 0 {
		fmt.Fprintf(&b, ", line %d", line)
	}
	if column > 0 {
		fmt.Fprintf(&b, ", column %d", column)
	}
	if field != "" {
		fmt.Fprintf(&b, " (%s)", field)
	}
	return b.String()
}

// sink gathers faults up to MaxFaults and counts the rest.
type sink struct {
	faults []Fault
	more   int
	lines  map[string]map[int]bool // every wrong line, by file
}

func (s *sink) add(f Fault) {
	if s.lines == nil {
		s.lines = map[string]map[int]bool{}
	}
	if s.lines[f.File] == nil {
		s.lines[f.File] = map[int]bool{}
	}
	s.lines[f.File][f.Line] = true
	if len(s.faults) >= MaxFaults {
		s.more++
		return
	}
	s.faults = append(s.faults, f)
}

// clone is a sink that begins with what is in this one.
func (s *sink) clone() *sink {
	out := &sink{faults: slices.Clone(s.faults), more: s.more, lines: map[string]map[int]bool{}}
	for file, lines := range s.lines {
		out.lines[file] = maps.Clone(lines)
	}
	return out
}

// list gives the faults by file, line and column, the count of the rest last.
func (s *sink) list() []Fault {
	slices.SortStableFunc(s.faults, func(a, b Fault) int {
		return cmp.Or(cmp.Compare(fileRank(a.File), fileRank(b.File)), cmp.Compare(a.File, b.File),
			cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	if s.more > 0 {
		return append(s.faults, Fault{More: s.more})
	}
	return s.faults
}

// quoted shows a field's text inside a sentence, shortened where it is long.
func quoted(s string) string {
	const most = 60
	if utf8.RuneCountInString(s) > most {
		s = string([]rune(s)[:most-1]) + "…"
	}
	if s == "" {
		return "nothing"
	}
	return fmt.Sprintf("%q", s)
}
