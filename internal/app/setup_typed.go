package app

import (
	"context"
	"fmt"
	"strings"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// Slip is one thing wrong with what was typed: the file, row and column it
// would have as an import, and what is wrong, as a sentence.
type Slip struct {
	File  string
	Row   int // from 0; -1 where no row is meant
	Field string
	Text  string
}

// Slips are all that is wrong; none means that everything was stored.
type Slips []Slip

// At is what is wrong with one field; empty where nothing is.
func (s Slips) At(file string, row int, field string) string {
	var out []string
	for _, x := range s {
		if x.File == file && x.Row == row && x.Field == field {
			out = append(out, x.Text)
		}
	}
	return strings.Join(out, " ")
}

// typedSlip says of a field what stands there and what would be right.
func typedSlip(file string, row int, field, got, want string) Slip {
	return Slip{File: file, Row: row, Field: field, Text: "Found " + got + "; wanted " + want + "."}
}

// officeOnly lets in whom an import lets in: an admin, or a manager.
func officeOnly(c Caller) error {
	switch {
	case c.machine:
		return nil
	case !c.SignedIn():
		return Refuse("needs-sign-in", "kind", "this page")
	case !c.Is(core.Admin, core.Manager):
		return roleRefusal(c.Person, c.Name, []core.Role{core.Admin, core.Manager})
	}
	return nil
}

// storeTyped stores rows that were typed, by the way of an import: read whole,
// judged together, and nothing stored where one is wrong.
func (s *Service) storeTyped(ctx context.Context, by Caller, source string, rows intake.Typed) (Slips, error) {
	folder, err := rows.Folder()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", source, err)
	}
	_, faults, err := s.Import(ctx, by.Person, source, folder)
	return slipsOf(faults), err
}

func slipsOf(faults []intake.Fault) Slips {
	var out Slips
	for _, f := range faults {
		x := typedSlip(f.File, f.Line-2, f.Field, f.Got, f.Want)
		if f.More > 0 {
			x = Slip{Row: -1, Text: f.String()}
		}
		out = append(out, x)
	}
	return out
}

// freeName is the first of prefix-1, prefix-2 and so on that is not taken.
func freeName(prefix string, from int, taken func(string) bool) string {
	for n := from; ; n++ {
		if name := fmt.Sprintf("%s-%d", prefix, n); !taken(name) {
			return name
		}
	}
}
