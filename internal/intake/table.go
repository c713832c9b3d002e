package intake

import (
	"bytes"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"tagalong/internal/core"
)

// table is one file, its lines as records under named columns.
type table struct {
	spec  spec
	index map[string]int // column name to field, from 0
	rows  []row
	whole bool // no line had to be left out
	sink  *sink
}

// row is one line of a table. Its getters report what is wrong with a field and
// then return the zero value; an absent column reads as empty.
type row struct {
	t *table
	record
}

// newTable scans a file and settles its header; nil where that is impossible.
func newTable(sp spec, data []byte, out *sink) *table {
	t := &table{spec: sp, index: map[string]int{}, sink: out}
	if len(data) >= 2 && (data[0] == 0xff && data[1] == 0xfe || data[0] == 0xfe && data[1] == 0xff) {
		out.add(Fault{File: sp.file, Line: 1, Got: "UTF-16 text", Want: "text in UTF-8; save the file again as CSV in UTF-8"})
		return nil
	}
	if what := notText(data); what != "" {
		out.add(Fault{File: sp.file, Line: 1, Got: what, Want: "a table saved as CSV in UTF-8"})
		return nil
	}
	silent := true
	records, whole := scan(sp.file, data, func(f Fault) { silent = false; out.add(f) })
	t.whole = whole
	if len(records) == 0 {
		if silent {
			out.add(Fault{File: sp.file, Line: 1, Got: "an empty file", Want: "a first line that names the columns: " + strings.Join(sp.names(), ",")})
		}
		return nil
	}
	if records[0].line != 1 || !t.header(records[0]) {
		return nil
	}
	for _, r := range records[1:] {
		if r.count != records[0].count {
			out.add(Fault{File: sp.file, Line: r.line, Got: count(r.count, "field"),
				Want: fmt.Sprintf("%s, as the first line has", count(records[0].count, "field"))})
			t.whole = false
			continue
		}
		t.rows = append(t.rows, row{t, r})
	}
	return t
}

// notText names what a file is that only has a table's name. A ZIP archive
// begins with a local file header, and a workbook of today's office programs is
// one (.ZIP File Format Specification 6.3.10, 4.3.7; ECMA-376 part 2); the older
// compound file begins with eight fixed bytes (MS-CFB 2.2); a PDF with %PDF-
// (ISO 32000-1, 7.5.2).
func notText(data []byte) string {
	for _, k := range []struct{ begins, what string }{
		{"PK\x03\x04", "a workbook or a packed folder, not text"},
		{"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "a workbook of an older office program, not text"},
		{"%PDF-", "a PDF, not text"},
	} {
		if bytes.HasPrefix(data, []byte(k.begins)) {
			return k.what
		}
	}
	return ""
}

func (t *table) header(r record) bool {
	ok := true
	fault := func(column int, field, got, want string) {
		ok = false
		t.sink.add(Fault{File: t.spec.file, Line: 1, Column: column, Field: field, Got: got, Want: want})
	}
	if r.count == 1 && strings.ContainsAny(r.cells[0].text, ";\t") {
		fault(0, "", "fields parted by semicolons or tabs", "fields parted by commas")
		return false
	}
	if r.count > maxColumns {
		fault(0, "", count(r.count, "column"), fmt.Sprintf("at most %d columns", maxColumns))
		return false
	}
	names := t.spec.names()
	for i, c := range r.cells {
		at, twice := t.index[c.text]
		switch {
		case twice:
			fault(i+1, c.text, "the column "+c.text+" again, first as column "+strconv.Itoa(at+1), "each column once")
		case slices.Contains(names, c.text):
			t.index[c.text] = i
		default:
			want := "one of the columns " + strings.Join(names, ", ")
			if n := nearest(strings.ToLower(strings.TrimSpace(c.text)), names); n != "" {
				want = "the column " + n
			}
			fault(i+1, "", "the unknown column "+quoted(c.text), want)
		}
	}
	for _, c := range t.spec.columns {
		if _, there := t.index[c.name]; c.must && !there {
			fault(0, c.name, "no column "+c.name, "a column named "+c.name+" in the first line")
		}
	}
	return ok
}

func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return strconv.Itoa(n) + " " + noun + "s"
}

// cell is a column's raw text and whether its column says it must be there.
func (r row) cell(name string) (string, bool) {
	i := slices.IndexFunc(r.t.spec.columns, func(c column) bool { return c.name == name })
	at, there := r.t.index[name]
	if !there {
		return "", false
	}
	return r.cells[at].text, r.t.spec.columns[i].must
}

// has reports whether the field is there and not empty.
func (r row) has(name string) bool {
	s, _ := r.cell(name)
	return s != ""
}

// fault reports a fault of one field; an empty name means the whole line.
func (r row) fault(name, got, want string) {
	f := Fault{File: r.t.spec.file, Line: r.line, Field: name, Got: got, Want: want}
	if at, there := r.t.index[name]; there {
		f.Column, f.Line = at+1, r.cells[at].line
	}
	r.t.sink.add(f)
}

// filled gives a field's text; an empty one that must be there is reported.
func (r row) filled(name, want string) (string, bool) {
	s, must := r.cell(name)
	if s == "" {
		if must {
			r.fault(name, "nothing", want)
		}
		return "", false
	}
	return s, true
}

const (
	maxKey  = 64 // characters
	keyWant = "a name of at most 64 characters that begins with a letter or digit and has no @, control character or space at its end"
)

func validKey(s string) bool {
	first, _ := utf8.DecodeRuneInString(s)
	last, _ := utf8.DecodeLastRuneInString(s)
	return (unicode.IsLetter(first) || unicode.IsDigit(first)) && !unicode.IsSpace(last) && utf8.RuneCountInString(s) <= maxKey &&
		!strings.ContainsFunc(s, func(c rune) bool { return c == '@' || unicode.IsControl(c) })
}

func (r row) key(name string) string {
	s, ok := r.filled(name, keyWant)
	if !ok {
		return ""
	}
	if !validKey(s) {
		r.fault(name, quoted(s), keyWant)
		return ""
	}
	return s
}

func (r row) text(name string) string {
	s, ok := r.filled(name, "a text")
	if !ok {
		return ""
	}
	if _, must := r.cell(name); must && strings.TrimSpace(s) == "" {
		r.fault(name, "only spaces", "a text")
		return ""
	}
	return plain(s)
}

func (r row) word(name string, words ...string) string {
	want := "one of " + strings.Join(words, ", ")
	s, ok := r.filled(name, want)
	if ok && !slices.Contains(words, s) {
		r.fault(name, quoted(s), want)
		return ""
	}
	return s
}

func (r row) yes(name string) bool { return r.word(name, "yes", "no") == "yes" }

// list reads words parted by single spaces and refuses an empty or doubled one.
func (r row) list(name, want string, good func(string) bool) []string {
	s, ok := r.filled(name, want)
	if !ok {
		return nil
	}
	var out []string
	for _, w := range strings.Split(s, " ") {
		switch {
		case slices.Contains(out, w):
			r.fault(name, quoted(w)+" twice", "each word once")
		case !good(w):
			r.fault(name, quoted(w), want)
		default:
			out = append(out, w)
		}
	}
	return out
}

// whole reads a whole number between two limits, which belong to the good side.
func (r row) whole(name string, lo, hi int) int {
	want := fmt.Sprintf("a whole number from %d to %d", lo, hi)
	s, ok := r.filled(name, want)
	if !ok {
		return 0
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < lo || n > hi || !plainWhole.MatchString(s) {
		r.fault(name, quoted(s), want)
		return 0
	}
	return n
}

var (
	plainWhole   = regexp.MustCompile(`^-?[0-9]{1,10}$`)
	plainDecimal = regexp.MustCompile(`^-?[0-9]{1,12}(\.[0-9]{1,20})?$`)
	commaDecimal = regexp.MustCompile(`^-?[0-9]+,[0-9]+$`)
)

// decimal reads a number between two limits, which belong to the good side.
func (r row) decimal(name string, lo, hi float64) float64 {
	want := fmt.Sprintf("a number from %s to %s, with a point before its decimals", number(lo), number(hi))
	s, ok := r.filled(name, want)
	if !ok {
		return 0
	}
	if commaDecimal.MatchString(s) {
		r.fault(name, quoted(s), "a point before the decimals, not a comma: "+strings.Replace(s, ",", ".", 1))
		return 0
	}
	f, err := strconv.ParseFloat(s, 64)
	if err != nil || f < lo || f > hi || !plainDecimal.MatchString(s) {
		r.fault(name, quoted(s), want)
		return 0
	}
	return f
}

func (r row) limit(name string) *float64 {
	if !r.has(name) {
		return nil
	}
	f := r.decimal(name, -1e9, 1e9)
	return &f
}

func (r row) date(name string) core.Date {
	const want = "a day as YYYY-MM-DD, such as 2026-11-25"
	s, ok := r.filled(name, want)
	if !ok {
		return ""
	}
	t, err := time.Parse(time.DateOnly, s)
	if err != nil || len(s) != len(time.DateOnly) || t.Year() < 1900 || t.Year() > 2199 {
		r.fault(name, quoted(s), want)
		return ""
	}
	return core.Date(s)
}

func (r row) itemRev(item, rev string) core.ItemRev {
	return core.ItemRev{Item: core.ItemID(r.key(item)), Rev: r.key(rev)}
}

func number(f float64) string { return strconv.FormatFloat(f, 'f', -1, 64) }
