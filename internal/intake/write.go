package intake

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"unicode/utf8"

	"tagalong/internal/core"
)

// neutralised are the first characters that may make a spreadsheet take a text
// for a formula (OWASP ASVS 5.0.0, 1.2.10), and the carriage return, which some
// spreadsheets skip. NUL never gets as far: it is refused.
const neutralised = "=+-@\t\r"

// neutral is a text as it is written; plain takes it back.
func neutral(s string) string {
	if s == "" {
		return s
	}
	if strings.IndexByte(neutralised, s[0]) >= 0 || neutralLike(s) {
		return "'" + s
	}
	return s
}

// neutralLike reports a text that looks as if it had been neutralised.
func neutralLike(s string) bool {
	return len(s) > 1 && s[0] == '\'' && strings.IndexByte(neutralised+"'", s[1]) >= 0
}

// plain is a text as it is meant.
func plain(s string) string {
	if neutralLike(s) {
		return s[1:]
	}
	return s
}

// Write writes the bundle's files into a folder, one for each list that is not
// empty, so that reading them gives a bundle equal to one that Read gave; notes
// are not written. It returns an error, and writes nothing, where the folder
// holds CSV files already or a value has no place in the format (a NUL, text
// that is not UTF-8, a field or file above the limits).
func Write(dir string, b Bundle) error {
	files, err := Files(b)
	if err != nil {
		return err
	}
	there, err := filepath.Glob(filepath.Join(dir, "*.[cC][sS][vV]"))
	if err != nil {
		return fmt.Errorf("look into %s: %w", dir, err)
	}
	if len(there) > 0 {
		return fmt.Errorf("%s is already in the folder; nothing was written, choose a folder without CSV files", filepath.Base(there[0]))
	}
	for _, s := range specs {
		data, ok := files[s.file]
		if !ok {
			continue
		}
		if err := os.WriteFile(filepath.Join(dir, s.file), data, 0o644); err != nil {
			return fmt.Errorf("write %s: %w", s.file, err)
		}
	}
	return nil
}

// Files is what Write writes, by file name.
func Files(b Bundle) (map[string][]byte, error) {
	w := &writer{}
	out := map[string][]byte{}
	for file, lines := range written(b) {
		text := w.text(file, lines)
		if w.err != nil {
			return nil, w.err
		}
		if len(text) > MaxFileBytes || len(lines) >= MaxLines {
			return nil, fmt.Errorf("%s would have %d lines and %d bytes, and %d lines or %d bytes are the most; write fewer orders or items at a time",
				file, len(lines)+1, len(text), MaxLines, MaxFileBytes)
		}
		out[file] = text
	}
	return out, nil
}

// Lines counts the lines below the first that Write writes into each file.
func Lines(b Bundle) map[string]int {
	out := map[string]int{}
	for file, lines := range written(b) {
		out[file] = len(lines)
	}
	return out
}

// written is a bundle as lines of fields, by file, each line in the order of
// the file's columns and each field as it is meant, before any quote.
func written(b Bundle) map[string][][]string {
	l := lines{}
	l.shop(b)
	l.routes(b.Routes)
	l.items(b.Items)
	l.work(b)
	return l
}

// writer turns lines into text; err is the first value that has no place in it.
type writer struct{ err error }

func (w *writer) text(file string, lines [][]string) []byte {
	sp, _ := specOf(file)
	var f bytes.Buffer
	f.WriteString(strings.Join(sp.names(), ",") + "\r\n")
	for _, values := range lines {
		for i, v := range values {
			if i > 0 {
				f.WriteByte(',')
			}
			c := sp.columns[i]
			if c.kind == text {
				v = neutral(v)
			}
			w.judge(file, c, v)
			writeField(&f, v)
		}
		f.WriteString("\r\n")
	}
	return f.Bytes()
}

func (w *writer) judge(file string, c column, v string) {
	var why string
	switch {
	case w.err != nil:
	case c.must && v == "":
		why = "is empty, and the format has to have it"
	case len(v) > MaxFieldBytes:
		why = fmt.Sprintf("is longer than %d bytes", MaxFieldBytes)
	case !utf8.ValidString(v):
		why = "is not UTF-8"
	case strings.ContainsFunc(v, badControl):
		why = "holds a control character"
	case c.kind == key && v != "" && !validKey(v):
		why = "is no key: " + keyWant
	}
	if why != "" {
		w.err = fmt.Errorf("%s can't be written: %s %s %s", file, c.name, quoted(v), why)
	}
}

// writeField quotes a field where RFC 4180 asks for it.
func writeField(b *bytes.Buffer, s string) {
	if !strings.ContainsAny(s, "\",\r\n") {
		b.WriteString(s)
		return
	}
	b.WriteString(`"` + strings.ReplaceAll(s, `"`, `""`) + `"`)
}

// lines gathers the lines of each file.
type lines map[string][][]string

// line adds one line, its values in the order of the file's columns.
func (w lines) line(file string, values ...string) {
	if sp, _ := specOf(file); len(values) != len(sp.columns) {
		panic("intake: " + file + " has " + count(len(sp.columns), "column")) // a slip in this file, found by any test
	}
	w[file] = append(w[file], values)
}

func (w lines) shop(b Bundle) {
	for _, s := range b.Stations {
		w.line("stations.csv", string(s.ID), s.Name, join(s.Stages), s.Abrasive, string(s.Metal), some(s.Capacity),
			only(s.Bench), only(s.Dock), only(s.Site), some(s.Order), some(s.Km), only(s.Abroad))
	}
	for _, p := range b.People {
		w.line("people.csv", string(p.ID), p.Name, join(p.Roles), only(p.Left))
		for _, q := range p.Qualifications {
			w.line("qualifications.csv", string(p.ID), q.Process, string(q.Metal), someNumber(q.MaxThickness), string(q.ValidTo), string(q.ConfirmBy), join(q.Positions))
		}
	}
	for _, i := range b.Instruments {
		w.line("instruments.csv", i.ID, i.Kind, i.Name, string(i.DueBy))
	}
	for _, x := range b.Batches {
		w.line("batches.csv", x.Batch, x.Kind, x.Colour, string(x.Expires))
	}
}

func (w lines) routes(routes []core.Route) {
	for _, r := range routes {
		version := strconv.Itoa(r.Version)
		for _, s := range r.Steps {
			no := strconv.Itoa(s.No)
			w.line("routes.csv", r.Name, version, only(r.Rework), no, string(s.Stage), s.Look, string(s.Face), s.Colour, s.Place,
				s.Parallel, only(s.AfterCoat), someNumber(s.ValidHours), s.Qualification, someNumber(s.Minutes), s.Position)
			for _, p := range s.Sampling {
				w.line("sampling.csv", r.Name, version, no, some(p.UpTo), strconv.Itoa(p.Size), strconv.Itoa(p.Accept), p.Source)
			}
			for _, c := range s.Checks {
				w.line("checks.csv", r.Name, version, no, c.ID, c.Text, string(c.Kind), limitText(c.Nominal), limitText(c.Lower),
					limitText(c.Upper), c.Unit, c.Instrument, only(c.Optional), c.Source)
			}
		}
	}
}

func (w lines) items(items []core.Revision) {
	for _, v := range items {
		item, rev := string(v.Item), v.Rev
		w.line("items.csv", item, rev, string(v.Kind), v.Name, v.Grade, string(v.Metal), someNumber(v.Thickness), someNumber(v.Length),
			someNumber(v.Width), someNumber(v.NetArea), someNumber(v.MassEach), some(v.MaxBakes), only(v.EdgesAsCut), only(v.FoldsFirst),
			v.Hand, v.Route.Name, some(v.Route.Version))
		for _, c := range v.Bill {
			w.line("bills.csv", item, rev, string(c.Item.Item), c.Item.Rev, strconv.Itoa(c.Qty))
		}
		for _, f := range v.Finish {
			w.line("finishes.csv", item, rev, string(f.Face), f.Colour, only(f.Protect))
		}
		for i, ring := range v.Outline {
			for _, s := range ringLines(ring) {
				w.line("outlines.csv", item, rev, strconv.Itoa(i+1), s)
			}
		}
	}
}

// ringLines writes a ring's points, on several lines where one would be too long.
func ringLines(ring []float64) []string {
	var out []string
	var b strings.Builder
	for i := 0; i+1 < len(ring); i += 2 {
		p := number(ring[i]) + " " + number(ring[i+1])
		if b.Len()+1+len(p) > MaxFieldBytes {
			out = append(out, b.String())
			b.Reset()
		}
		if b.Len() > 0 {
			b.WriteByte(';')
		}
		b.WriteString(p)
	}
	return append(out, b.String())
}

func (w lines) work(b Bundle) {
	for _, o := range b.Orders {
		w.line("orders.csv", o.No, o.Customer, o.Site, o.Reference, string(o.Promised), only(o.LongHaul), some(o.Priority), only(o.Consent))
		for _, l := range o.Lines {
			w.line("lines.csv", o.No, strconv.Itoa(l.Line), string(l.Item.Item), l.Item.Rev, strconv.Itoa(l.Qty))
		}
	}
	for _, n := range b.Nests {
		for _, p := range n.Parts {
			w.line("nests.csv", n.ID, string(n.Material.Item), n.Material.Rev, strconv.Itoa(p.No), string(p.Item.Item), p.Item.Rev,
				p.Owner.Order, some(p.Owner.Line), strconv.Itoa(p.Qty))
		}
	}
	for _, s := range b.Sheets {
		w.line("sheets.csv", s.No, string(s.Material.Item), s.Material.Rev, s.Heat, s.Slot, s.Certificate)
	}
	for _, d := range b.Bought {
		w.line("bought.csv", d.No, string(d.Item.Item), d.Item.Rev, strconv.Itoa(d.Qty), d.Batch, string(d.Expires), d.Slot, d.Certificate)
	}
}

func join[T ~string](words []T) string {
	var out []string
	for _, w := range words {
		out = append(out, string(w))
	}
	return strings.Join(out, " ")
}

// some, someNumber and only leave a zero value's field empty.
func some(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

func someNumber(f float64) string {
	if f == 0 {
		return ""
	}
	return number(f)
}

func only(b bool) string {
	if b {
		return "yes"
	}
	return ""
}

func limitText(f *float64) string {
	if f == nil {
		return ""
	}
	return number(*f)
}
