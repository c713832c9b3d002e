package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"

	"github.com/google/uuid"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/paper"
	"tagalong/internal/paperwork"
)

// printTraveller numbers a print of a pallet's traveller, by the command the
// screens use, and writes it as a PDF.
func printTraveller(ctx context.Context, e env, args []string) error {
	out := ""
	what, err := parse(e, script("print"), args, 1, 1, func(set *flag.FlagSet) {
		set.StringVar(&out, "out", "", "the PDF file to write; - for standard output")
	})
	if err != nil {
		return err
	}
	if out == "" {
		return usage("--out FILE.pdf is missing")
	}
	c, err := app.ReadCode(what[0], code.Pallet, code.Sheet)
	if err != nil {
		return err
	}
	return withShop(ctx, e, func(s *app.Service) error { return printTo(ctx, e, s, core.PalletCode(c), out) })
}

// printTo writes beside the file and then puts it in its place, so that a
// failure leaves an older one alone. The place is tried before a print is
// numbered.
func printTo(ctx context.Context, e env, s *app.Service, pallet core.PalletCode, out string) error {
	if out == "-" {
		sheet, err := number(ctx, s, pallet)
		if err != nil {
			return err
		}
		return paper.WriteTravellers(e.out, paper.A4, sheet.Traveller)
	}
	file, err := os.CreateTemp(filepath.Dir(out), ".traveller-*.pdf")
	if err != nil {
		return fmt.Errorf("%w. Nothing was printed. Name another file with --out", err)
	}
	sheet, err := number(ctx, s, pallet)
	if err == nil {
		err = paper.WriteTravellers(file, paper.A4, sheet.Traveller)
	}
	if err = errors.Join(err, file.Chmod(0o644), file.Close()); err == nil {
		err = os.Rename(file.Name(), out)
	}
	if err != nil {
		return errors.Join(err, os.Remove(file.Name()))
	}
	fmt.Fprintf(e.log, "Print %d of %s, %s, in %s.\n", sheet.Print, sheet.Code, countOf(sheet.Count(), "part", "parts"), out)
	return nil
}

// number numbers the next print.
func number(ctx context.Context, s *app.Service, pallet core.PalletCode) (paperwork.Sheet, error) {
	body, err := json.Marshal(core.PrintTraveller{Pallet: pallet})
	if err != nil {
		return paperwork.Sheet{}, err
	}
	req := app.Request{ID: core.CommandID(uuid.NewString()), Happened: s.Clock(), Body: body}
	if _, err := s.Do(ctx, app.Machine(), core.PrintTraveller{}.Kind(), req); err != nil {
		return paperwork.Sheet{}, err
	}
	return paperwork.Traveller(ctx, s, pallet, 0)
}
