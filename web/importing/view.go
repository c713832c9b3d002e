package importing

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"tagalong/internal/app"
	"tagalong/internal/intake"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

func head(p endpoint.Page, title string) ui.OfficeHead {
	return ui.OfficeHead{Title: title, Shop: p.Shop, Person: p.Caller.Name, Nav: ui.OfficeNav("/office"), Demo: p.Demo, Scripts: []string{"import.js"}}
}

// holds says what each file is about, and which one it goes with.
var holds = map[string]struct{ what, with string }{
	"stations.csv":       {"places that do work", ""},
	"people.csv":         {"people with a badge, and their roles; an admin imports them", ""},
	"qualifications.csv": {"who may weld, inspect and so on, until when", "people.csv"},
	"instruments.csv":    {"gauges and the day their calibration ends", ""},
	"batches.csv":        {"powder, filler, baths, foil", ""},
	"routes.csv":         {"the order of work, step by step", ""},
	"checks.csv":         {"what is checked at a step", "routes.csv"},
	"sampling.csv":       {"how many parts of a lot an inspection looks at", "routes.csv"},
	"items.csv":          {"parts, assemblies, products, bought goods, sheets and bars", ""},
	"bills.csv":          {"what assemblies, products and kits are made of", "items.csv"},
	"finishes.csv":       {"the colour of each face", "items.csv"},
	"outlines.csv":       {"flat patterns, to be drawn", "items.csv"},
	"orders.csv":         {"what customers asked for, and by when", "lines.csv"},
	"lines.csv":          {"the lines of each order", "orders.csv"},
	"nests.csv":          {"what is cut from one sheet, and for whom", ""},
	"sheets.csv":         {"sheets and bars in the store, with their heats", ""},
	"bought.csv":         {"deliveries of bought goods in the store", ""},
}

// verdicts are the columns of the table of counts.
var verdicts = []intake.Verdict{intake.New, intake.Changed, intake.Gone, intake.Same, intake.Refused}

// dash stands for nought, so that a table shows at once where there is anything.
func dash(n int) string {
	if n == 0 {
		return "–"
	}
	return thousands(n)
}

// thousands parts a number's digits by a narrow space (ISO 80000-1, 7.3.1).
func thousands(n int) string {
	s := strconv.Itoa(n)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "\u202f" + s[i:]
	}
	return s
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return thousands(n) + " " + many
}

// summary says in one sentence what the files would do.
func summary(v view) string {
	p := v.Plan
	switch {
	case len(p.Faults) > 0:
		return wrong(p) + ", so nothing can be stored. Put right what is wrong and choose the files again."
	case p.Nothing():
		return "The shop has all of it already: there is nothing to store."
	}
	var parts []string
	for _, x := range []struct {
		v    intake.Verdict
		said string
	}{{intake.New, "new"}, {intake.Changed, "changed"}, {intake.Gone, "taken out"}, {intake.Same, "the same"}} {
		n := p.Count(x.v)
		switch {
		case n == 0:
		case len(parts) == 0:
			parts = append(parts, count(n, "line is ", "lines are ")+x.said)
		default:
			parts = append(parts, count(n, "is ", "are ")+x.said)
		}
	}
	return sentence(parts) + ". Nothing is stored yet."
}

// wrong counts what is wrong: "2 files and 3 lines are wrong".
func wrong(p app.ImportPlan) string {
	files, lines := map[string]bool{}, p.Count(intake.Refused)
	for _, f := range p.Faults {
		if f.Line < 2 && f.More == 0 {
			files[f.File] = true
		}
	}
	var parts []string
	if len(files) > 0 {
		parts = append(parts, count(len(files), "file", "files"))
	}
	if lines > 0 {
		parts = append(parts, count(lines, "line", "lines"))
	}
	if len(files)+lines == 1 {
		return sentence(parts) + " is wrong"
	}
	return sentence(parts) + " are wrong"
}

func sentence(parts []string) string {
	if len(parts) < 2 {
		return strings.Join(parts, "")
	}
	return strings.Join(parts[:len(parts)-1], ", ") + " and " + parts[len(parts)-1]
}

// storable says that there is something to store and nothing in its way.
func storable(v view) bool { return len(v.Plan.Faults) == 0 && !v.Plan.Nothing() }

// most is how many changes of a file, and fields of a line, a page lists.
const (
	mostChanges = 100
	mostText    = 60
)

func listed(c []intake.LineChange) []intake.LineChange { return c[:min(len(c), mostChanges)] }

// unlisted says how many changes of a file a page leaves out.
func unlisted(f intake.FileChange) string {
	if n := len(f.Changes) - mostChanges; n > 0 {
		return count(n, "more line like these", "more lines like these")
	}
	return ""
}

func short(s string) string {
	if utf8.RuneCountInString(s) > mostText {
		return string([]rune(s)[:mostText-1]) + "…"
	}
	return s
}

// columnName is a column's name as people read it.
func columnName(s string) string { return strings.ReplaceAll(s, "_", " ") }

func lineNo(n int) string {
	if n == 0 {
		return ""
	}
	return thousands(n)
}

// size says a size: "812 bytes", "14 KiB", "1.4 MiB" (IEC 80000-13).
func size(n int) string {
	switch {
	case n < 1<<10:
		return count(n, "byte", "bytes")
	case n < 1<<20:
		return strconv.Itoa(n>>10) + " KiB"
	}
	return fmt.Sprintf("%.1f MiB", float64(n)/(1<<20))
}

func seconds(d time.Duration) string { return count(int(d/time.Second), "second", "seconds") }

// place is where a fault is: "line 4, column 3".
func place(f intake.Fault) string {
	switch {
	case f.Line == 0:
		return "the file"
	case f.Column == 0:
		return "line " + thousands(f.Line)
	}
	return "line " + thousands(f.Line) + ", column " + strconv.Itoa(f.Column)
}

func named(f intake.Fault) string {
	if f.File == "" {
		return "all files"
	}
	return f.File
}

func busyTitle(v view) string {
	if v.State == storing {
		return "Storing"
	}
	return "Reading the files"
}

// busyWords says what is being done, and of how much.
func busyWords(v view) string {
	if v.State == storing {
		return "Storing " + count(v.Lines, "line", "lines") + ": all of it, or nothing"
	}
	return "Reading " + count(len(v.Files), "file", "files") + ", " + size(v.Size) + "; nothing is stored"
}
