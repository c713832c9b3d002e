package paper

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// MassText gives the mass of all parts, and of the empty pallet if known.
func (t Traveller) MassText() string {
	kg, ok := t.MassKg()
	switch {
	case len(t.Lots) == 0:
		return "none"
	case !ok:
		return "not known"
	}
	return Kg(kg)
}

// HeldLots names the lots on hold, so that the first page warns of what stands
// on a later one. It is empty when none is, or when the pallet has one lot only.
func (t Traveller) HeldLots() string {
	var held []string
	for _, l := range t.Lots {
		if len(l.Holds) > 0 {
			held = append(held, l.Letter)
		}
	}
	if len(held) == 0 || len(t.Lots) == 1 {
		return ""
	}
	return lotsText(held) + ": why, and who can lift it, stands at the lot"
}

// LoadText counts parts and lots.
func (t Traveller) LoadText() string {
	if len(t.Lots) == 0 {
		return "nothing"
	}
	return plural(t.Count(), "part") + " in " + plural(len(t.Lots), "lot")
}

// Text names the grade and the thickness.
func (m Metal) Text() string {
	if m.ThicknessMM <= 0 {
		return m.Grade
	}
	return strings.TrimPrefix(m.Grade+", ", ", ") + Number(m.ThicknessMM) + " mm"
}

// PrintText says which print this is and which it replaces.
func (t Traveller) PrintText() string {
	if t.Replaces > 0 {
		return fmt.Sprintf("%d, replaces %d", t.Print, t.Replaces)
	}
	return fmt.Sprintf("%d, the first", t.Print)
}

// PrintedText says when, where and by whom the sheet was printed.
func (t Traveller) PrintedText() string {
	return joinFilled(", ", DateTime(t.PrintedAt), t.PrintedWhere, t.PrintedBy)
}

// OrderText names order, line and customer.
func (l Lot) OrderText() string {
	s := prefixed("order ", l.Order, "")
	if l.Line != "" {
		s += " line " + l.Line
	}
	return joinFilled(", ", s, l.Customer)
}

// PromisedText is the promised date or says there is none.
func PromisedText(t time.Time) string {
	if t.IsZero() {
		return "no date promised"
	}
	return Date(t)
}

// SheetText lists sheets and heats.
func (l Lot) SheetText() string {
	var out []string
	for _, s := range l.Sheets {
		if s.Heat != "" {
			out = append(out, s.Code+" heat "+s.Heat)
		} else {
			out = append(out, s.Code)
		}
	}
	return strings.Join(out, "; ")
}

// FinishText lists the finish of each face.
func (l Lot) FinishText() string {
	var out []string
	for _, f := range l.Finish {
		out = append(out, joinFilled(": ", f.Face, f.Finish))
	}
	if len(out) == 0 {
		return "no finish asked"
	}
	return strings.Join(out, "; ")
}

// NextText names the step the lot stands before.
func (l Lot) NextText() string {
	for _, s := range l.Steps {
		if s.Next {
			return s.Stage
		}
	}
	return ""
}

// Text says why, since when, who put the hold on and who can lift it.
func (h Hold) Text() string {
	since := ""
	if !h.Since.IsZero() {
		since = "since " + DateTime(h.Since)
	}
	by := ""
	if h.By != "" {
		by = "by " + h.By
	}
	return sentence(h.Reason) + prefixed(" On hold ", joinFilled(", ", since, by), ".") + prefixed(" Lifted by ", h.Release, ".")
}

// Text gives number, reason and signatures.
func (c Concession) Text() string {
	return joinFilled(" ", c.Number, sentence(c.Reason)) + prefixed(" Signed ", strings.Join(c.Signers, " and "), ".")
}

// JudgedText is the count a signed step was given, "4 good" with the rest.
func (s Step) JudgedText() (good, notGood string) {
	return strconv.Itoa(s.Good), strconv.Itoa(s.NotGood)
}

// Remark is what else a step says of itself: that it is next, or a hold point.
func (s Step) Remark() string {
	hold := ""
	switch {
	case s.HoldPoint && s.Done:
		hold = "hold point, released"
	case s.HoldPoint:
		hold = "HOLD: nobody passes until released"
	}
	next := ""
	if s.Next {
		next = "next"
	}
	return joinFilled(". ", next, hold)
}

// Name is the word for a symbol.
func (k StepKind) Name() string {
	switch k {
	case Inspection:
		return "inspection"
	case Transport:
		return "transport"
	case Delay:
		return "delay"
	case Storage:
		return "storage"
	}
	return "operation"
}

// Date prints "Thu 3 Dec 2026", and nothing for the zero time.
func Date(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format("Mon 2 Jan 2006")
}

// ShortDate prints "Thu 3 Dec", and nothing for the zero time.
func ShortDate(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format("Mon 2 Jan")
}

// DateTime prints "Wed 25 Nov 2026 14:06", and nothing for the zero time.
func DateTime(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format("Mon 2 Jan 2006 15:04")
}

// SignedAt prints "Wed 25 Nov 13:58", and nothing for the zero time. The year
// stands at the head of the sheet.
func SignedAt(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format("Mon 2 Jan 15:04")
}

// Kg prints a mass in kilograms: three decimals below 1 kg, two below 10 kg,
// one below 100 kg.
func Kg(kg float64) string {
	switch {
	case kg < 0.9995:
		return strconv.FormatFloat(kg, 'f', 3, 64) + " kg"
	case kg < 9.995:
		return strconv.FormatFloat(kg, 'f', 2, 64) + " kg"
	case kg < 99.95:
		return strconv.FormatFloat(kg, 'f', 1, 64) + " kg"
	}
	return strconv.FormatFloat(kg, 'f', 0, 64) + " kg"
}

// Number prints without needless zeros.
func Number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return strconv.Itoa(n) + " " + word + "s"
}

func joinFilled(sep string, parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), sep)
}

func prefixed(before, s, after string) string {
	if s == "" {
		return ""
	}
	return before + s + after
}

// firstSentence is s up to its first full stop and space.
func firstSentence(s string) string {
	if first, _, more := strings.Cut(s, ". "); more {
		return first + "."
	}
	return s
}

func sentence(s string) string {
	if s == "" || strings.HasSuffix(s, ".") {
		return s
	}
	return s + "."
}
