package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"text/tabwriter"

	"tagalong/internal/app"
	"tagalong/internal/intake"
)

// importFolder brings a folder of CSV files into the shop, or names every wrong
// line and stores nothing.
func importFolder(ctx context.Context, e env, args []string) error {
	dir, err := parse(e, script("import"), args, 1, 1, nil)
	if err != nil {
		return err
	}
	return withShop(ctx, e, func(s *app.Service) error {
		got, faults, err := s.Import(ctx, "", "import of "+filepath.Base(filepath.Clean(dir[0])), os.DirFS(dir[0]))
		refused, isRefused := errors.AsType[*app.ImportRefused](err)
		switch {
		case isRefused:
			return fmt.Errorf("%s: %s Nothing was stored", refused.Of, sentence(refused.Refused))
		case err != nil:
			return fmt.Errorf("%w. Nothing was stored. Once the cause is put right, import again", err)
		case len(faults) > 0:
			for _, f := range faults {
				fmt.Fprintln(e.out, faultLine(f))
			}
			n := len(faults)
			if last := faults[n-1]; last.More > 0 {
				n += last.More - 1
			}
			return fmt.Errorf("%s, so nothing was stored. Put them right and import again", countOf(n, "line is wrong", "lines are wrong"))
		}
		return reportImport(e, got)
	})
}

// faultLine is a fault as FILE:LINE:COLUMN: what; what would be right.
func faultLine(f intake.Fault) string {
	if f.More > 0 {
		return f.String()
	}
	where := or(f.File, "the folder")
	if f.Line > 0 {
		where += fmt.Sprintf(":%d", f.Line)
	}
	if f.Column > 0 {
		where += fmt.Sprintf(":%d", f.Column)
	}
	field := ""
	if f.Field != "" {
		field = f.Field + ": "
	}
	return fmt.Sprintf("%s: %sfound %s; expected %s", where, field, f.Got, f.Want)
}

func reportImport(e env, got app.Imported) error {
	if got.Added() == 0 {
		fmt.Fprintln(e.out, "The shop has all of it already: nothing was added.")
		return nil
	}
	for _, n := range got.Notes {
		fmt.Fprintln(e.log, "note: "+n.String())
	}
	w := tabwriter.NewWriter(e.out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "added\tchanged\tthe same\t\t")
	for _, c := range got.Rows {
		if c.Added+c.Changed+c.Same > 0 {
			fmt.Fprintf(w, "%d\t%d\t%d\t\t %s\n", c.Added, c.Changed, c.Same, c.What)
		}
	}
	return w.Flush()
}

func countOf(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
