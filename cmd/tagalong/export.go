package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"text/tabwriter"

	"tagalong/internal/app"
	"tagalong/internal/intake"
)

// exportFolder writes the files an import reads.
func exportFolder(ctx context.Context, e env, args []string) error {
	dir, err := parse(e, script("export"), args, 1, 1, nil)
	if err != nil {
		return err
	}
	return withShop(ctx, e, func(s *app.Service) error {
		b, err := s.Export(ctx, app.Machine())
		if err != nil {
			return fmt.Errorf("%w. Nothing was written", err)
		}
		if err := os.Mkdir(dir[0], 0o755); err != nil && !errors.Is(err, fs.ErrExist) {
			return fmt.Errorf("%w. Nothing was written. Name a folder whose parent is there", err)
		}
		if err := intake.Write(dir[0], b); err != nil {
			return err
		}
		return reportExport(e, b)
	})
}

func reportExport(e env, b intake.Bundle) error {
	counts := intake.Lines(b)
	w := tabwriter.NewWriter(e.out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "lines\t\t")
	for _, name := range intake.FileNames() {
		if counts[name] > 0 {
			fmt.Fprintf(w, "%d\t\t %s\n", counts[name], name)
		}
	}
	return w.Flush()
}
