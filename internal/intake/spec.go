package intake

import "slices"

// kind is how the fields of a column are read and written.
type kind int

const (
	key  kind = iota // begins with a letter or digit; no control character, no "@"
	text             // any text; neutralised on writing
	word             // one of a few words
	list             // words or keys parted by single spaces
	whole
	decimal
	day
	yesNo
	points
)

// column is one column of a file. Where must is set the column has to be there
// and none of its fields may be empty.
type column struct {
	name string
	kind kind
	must bool
}

// spec is one file of the folder.
type spec struct {
	file    string
	columns []column
	keys    []string // the columns that tell one line from another
}

// specs lists the files in the order they are read: what is named before what
// names it. It is also the order of faults.
var specs = []spec{
	{"stations.csv", []column{{"station", key, true}, {"name", text, true}, {"stages", list, false}, {"abrasive", key, false},
		{"metal", word, false}, {"capacity", whole, false}, {"bench", yesNo, false}, {"dock", yesNo, false}, {"site", yesNo, false},
		{"position", whole, false}, {"distance_km", whole, false}, {"abroad", yesNo, false}}, []string{"station"}},
	{"people.csv", []column{{"person", key, true}, {"name", text, true}, {"roles", list, false}, {"left", yesNo, false}}, []string{"person"}},
	{"qualifications.csv", []column{{"person", key, true}, {"process", key, true}, {"metal", word, false},
		{"max_thickness_mm", decimal, false}, {"valid_to", day, true}, {"confirm_by", day, false}, {"positions", list, false}}, []string{"person", "process", "metal", "max_thickness_mm"}},
	{"instruments.csv", []column{{"instrument", key, true}, {"kind", text, true}, {"name", text, true}, {"due_by", day, true}}, []string{"instrument"}},
	{"batches.csv", []column{{"batch", key, true}, {"kind", key, true}, {"colour", key, false}, {"expires", day, false}}, []string{"batch"}},
	{"routes.csv", []column{{"route", key, true}, {"version", whole, true}, {"rework", yesNo, false}, {"step", whole, true},
		{"stage", key, true}, {"look", text, false}, {"face", key, false}, {"colour", key, false}, {"place", key, false},
		{"parallel", key, false}, {"after_coat", yesNo, false}, {"valid_hours", decimal, false}, {"qualification", key, false},
		{"minutes", decimal, false}, {"position", word, false}}, []string{"route", "version", "step"}},
	{"checks.csv", []column{{"route", key, true}, {"version", whole, true}, {"step", whole, true}, {"check", key, true},
		{"text", text, true}, {"kind", word, true}, {"nominal", decimal, false}, {"lower", decimal, false}, {"upper", decimal, false},
		{"unit", text, false}, {"instrument", text, false}, {"optional", yesNo, false}, {"source", text, false}}, []string{"route", "version", "step", "check"}},
	{"sampling.csv", []column{{"route", key, true}, {"version", whole, true}, {"step", whole, true}, {"up_to", whole, false},
		{"size", whole, true}, {"accept", whole, false}, {"source", text, false}}, []string{"route", "version", "step", "up_to"}},
	{"items.csv", []column{{"item", key, true}, {"rev", key, true}, {"kind", word, true}, {"name", text, true}, {"grade", key, false},
		{"metal", word, false}, {"thickness_mm", decimal, false}, {"length_mm", decimal, false}, {"width_mm", decimal, false},
		{"net_area_m2", decimal, false}, {"mass_kg", decimal, false}, {"max_bakes", whole, false}, {"edges_as_cut", yesNo, false},
		{"folds_first", yesNo, false}, {"hand", word, false}, {"route", key, false}, {"route_version", whole, false}}, []string{"item", "rev"}},
	{"bills.csv", []column{{"item", key, true}, {"rev", key, true}, {"component", key, true}, {"component_rev", key, true},
		{"qty", whole, true}}, []string{"item", "rev", "component", "component_rev"}},
	{"finishes.csv", []column{{"item", key, true}, {"rev", key, true}, {"face", key, true}, {"colour", key, true},
		{"protect", yesNo, false}}, []string{"item", "rev", "face"}},
	{"outlines.csv", []column{{"item", key, true}, {"rev", key, true}, {"ring", whole, true}, {"points_mm", points, true}}, []string{"item", "rev", "ring"}},
	{"orders.csv", []column{{"order", key, true}, {"customer", text, true}, {"site", text, false}, {"reference", text, false},
		{"promised", day, true}, {"long_haul", yesNo, false}, {"priority", whole, false}, {"consent", yesNo, false}}, []string{"order"}},
	{"lines.csv", []column{{"order", key, true}, {"line", whole, true}, {"item", key, true}, {"rev", key, true}, {"qty", whole, true}}, []string{"order", "line"}},
	{"nests.csv", []column{{"nest", key, true}, {"material", key, true}, {"material_rev", key, true}, {"part", whole, true},
		{"item", key, true}, {"rev", key, true}, {"order", key, false}, {"line", whole, false}, {"qty", whole, true}}, []string{"nest", "part"}},
	{"sheets.csv", []column{{"sheet", key, true}, {"material", key, true}, {"material_rev", key, true}, {"heat", key, true},
		{"slot", key, false}, {"certificate", text, false}}, []string{"sheet"}},
	{"bought.csv", []column{{"delivery", key, true}, {"item", key, true}, {"rev", key, true}, {"qty", whole, true},
		{"batch", key, false}, {"expires", day, false}, {"slot", key, false}, {"certificate", text, false}}, []string{"delivery"}},
}

func specOf(file string) (spec, bool) {
	i := slices.IndexFunc(specs, func(s spec) bool { return s.file == file })
	if i < 0 {
		return spec{}, false
	}
	return specs[i], true
}

// Column is a column of a file as people are told of it.
type Column struct {
	Name string
	Must bool // has to be there, and filled on every line
}

// Columns lists the columns of a file; none where there is no such file.
func Columns(file string) []Column {
	sp, _ := specOf(file)
	var out []Column
	for _, c := range sp.columns {
		out = append(out, Column{c.name, c.must})
	}
	return out
}

// keyAt are the places of the columns that make a line's key.
func (s spec) keyAt() []int {
	var out []int
	for _, name := range s.keys {
		out = append(out, slices.IndexFunc(s.columns, func(c column) bool { return c.name == name }))
	}
	return out
}

func fileRank(file string) int {
	return slices.IndexFunc(specs, func(s spec) bool { return s.file == file })
}

func (s spec) names() []string {
	var out []string
	for _, c := range s.columns {
		out = append(out, c.name)
	}
	return out
}

// nearest is the word most like s, or empty where none is close: a slip of
// about one letter in three.
func nearest(s string, words []string) string {
	best, least := "", len(s)/3+1
	for _, w := range words {
		if d := distance(s, w); d <= least && (best == "" || d < least) {
			best, least = w, d
		}
	}
	return best
}

// distance is the number of single-byte edits between two words (Levenshtein).
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := 1
			if a[i] == b[j] {
				cost = 0
			}
			diagonal, row[j+1] = row[j+1], min(row[j+1]+1, row[j]+1, diagonal+cost)
		}
	}
	return row[len(b)]
}
