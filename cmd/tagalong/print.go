package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/google/uuid"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/paper"
	"tagalong/internal/paperwork"
)

// printed is a PDF about to be written.
type printed struct {
	says  string // for the person: what is in the file
	write func(io.Writer) error
}

// printTravellers prints a pallet's traveller, all of an order, or the labels
// of a consignment. Travellers are numbered first, by the command the screens use.
func printTravellers(ctx context.Context, e env, args []string) error {
	out, sizeName := "", ""
	what, err := parse(e, script("print"), args, 1, 1, func(set *flag.FlagSet) {
		set.StringVar(&out, "out", "", "the PDF file to write; - for standard output")
		set.StringVar(&sizeName, "size", paper.A4.String(), "the paper of a traveller: a4, a5, or label, 100 × 150 mm")
	})
	if err != nil {
		return err
	}
	size, err := paper.ParseSize(sizeName)
	if err != nil {
		return usage("%v", err)
	}
	return toFile(e, out, func() (printed, error) {
		var p printed
		err := withShop(ctx, e, func(s *app.Service) (err error) {
			p, err = numbered(ctx, s, what[0], size)
			return err
		})
		return p, err
	})
}

// numbered numbers the travellers that a code or an order's number names.
func numbered(ctx context.Context, s *app.Service, what string, size paper.Size) (printed, error) {
	c, notCode := app.ReadCode(what, code.Pallet, code.Sheet, code.Consignment)
	var pallets []core.PalletCode
	switch {
	case notCode == nil && c.Kind() == code.Consignment:
		return containers(ctx, s, core.ConsignmentCode(c))
	case notCode == nil:
		pallets = []core.PalletCode{core.PalletCode(c)}
	default:
		var err error
		if pallets, err = paperwork.OrderPallets(ctx, s, what); errors.Is(err, app.ErrNotFound) {
			return printed{}, neither(what, notCode)
		} else if err != nil {
			return printed{}, err
		}
		if len(pallets) == 0 {
			return printed{}, fmt.Errorf("no pallet carries parts of order %s. Nothing was printed. Its parts are not cut yet, or have left", what)
		}
	}
	if err := paperwork.NumberAll(ctx, s, app.Machine(), uuid.New(), pallets); err != nil {
		return printed{}, err
	}
	sheets, err := paperwork.Newest(ctx, s, pallets)
	if err != nil {
		return printed{}, err
	}
	ts := make([]paper.Traveller, len(sheets))
	for i, x := range sheets {
		ts[i] = x.Traveller
	}
	says := fmt.Sprintf("%s of order %s", countOf(len(ts), "traveller", "travellers"), what)
	if notCode == nil {
		says = fmt.Sprintf("Print %d of %s, %s", ts[0].Print, ts[0].Code, countOf(ts[0].Count(), "part", "parts"))
	}
	return printed{says, func(w io.Writer) error { return paper.WriteTravellers(w, size, ts...) }}, nil
}

// neither says that a text is no order's number and why it is no code.
func neither(what string, notCode error) error {
	if refused, ok := errors.AsType[*app.Refused](notCode); ok && refused.Refusal.Code == "code-foreign" {
		return fmt.Errorf("there is no order %q, and it is no pallet's code. Nothing was printed. `tagalong pallets` lists the codes, with their orders", what)
	}
	return notCode
}

// containers are the labels of a consignment. They are not numbered: a label
// says what is inside, and the packing list is what counts.
func containers(ctx context.Context, s *app.Service, truck core.ConsignmentCode) (printed, error) {
	labels, err := paperwork.ContainerLabels(ctx, s, truck, "")
	if err != nil {
		return printed{}, fmt.Errorf("consignment %s: %w", truck, err)
	}
	return printed{countOf(len(labels), "container label", "container labels") + " of consignment " + code.Code(truck).Spaced(),
		func(w io.Writer) error { return paper.WriteContainerLabels(w, labels, s.Clock()) }}, nil
}

// signs draws signs for the slots named, or for every station.
func signs(ctx context.Context, e env, args []string) error {
	out, slots, station := "", "", ""
	_, err := parse(e, script("signs"), args, 0, 0, func(set *flag.FlagSet) {
		set.StringVar(&out, "out", "", "the PDF file to write; - for standard output")
		set.StringVar(&slots, "slots", "", "slots of the pallet store, such as \"A1-A12, B3\"; else every station")
		set.StringVar(&station, "station", "", "the store the slots are of; the first one where none is named")
	})
	if err != nil {
		return err
	}
	var names []string
	if strings.TrimSpace(slots) != "" {
		if names, err = paperwork.Slots(slots); err != nil {
			return err
		}
	}
	return toFile(e, out, func() (printed, error) {
		var p printed
		err := withShop(ctx, e, func(s *app.Service) error {
			shop, err := s.Shop(ctx)
			if err != nil {
				return err
			}
			b, err := s.Book(ctx)
			if err != nil {
				return err
			}
			if len(names) == 0 {
				all := paperwork.StationSigns(shop, b)
				p = printed{countOf(len(all), "sign", "signs"), func(w io.Writer) error { return paper.WriteStationSigns(w, all, s.Clock()) }}
				return nil
			}
			store, err := paperwork.StoreOf(b, core.StationID(station))
			if err != nil {
				return err
			}
			places := paperwork.SlotSigns(shop, store, names)
			p = printed{countOf(len(places), "sign", "signs"), func(w io.Writer) error { return paper.WritePlaceSigns(w, places, s.Clock()) }}
			return nil
		})
		return p, err
	})
}

// toFile writes beside the file and then puts it in its place, so that a
// failure leaves an older one alone. The place is tried before anything is
// numbered.
func toFile(e env, out string, draw func() (printed, error)) error {
	switch out {
	case "":
		return usage("--out FILE.pdf is missing")
	case "-":
		p, err := draw()
		if err != nil {
			return err
		}
		return p.write(e.out)
	}
	file, err := os.CreateTemp(filepath.Dir(out), ".tagalong-*.pdf")
	if err != nil {
		return fmt.Errorf("%w. Nothing was printed. Name another file with --out", err)
	}
	p, err := draw()
	if err == nil {
		err = p.write(file)
	}
	if err = errors.Join(err, file.Chmod(0o644), file.Close()); err == nil {
		err = os.Rename(file.Name(), out)
	}
	if err != nil {
		return errors.Join(err, os.Remove(file.Name()))
	}
	fmt.Fprintf(e.log, "%s, in %s.\n", p.says, out)
	return nil
}
