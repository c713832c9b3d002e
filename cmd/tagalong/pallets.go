package main

import (
	"context"
	"flag"
	"fmt"
	"strings"
	"text/tabwriter"

	"tagalong/internal/app"
	"tagalong/internal/code"
)

// mostPallets is the most `tagalong pallets` lists where nothing else is asked.
const mostPallets = 500

func pallets(ctx context.Context, e env, args []string) error {
	limit := mostPallets
	_, err := parse(e, script("pallets"), args, 0, 0, func(set *flag.FlagSet) {
		set.IntVar(&limit, "limit", mostPallets, "the most to list")
	})
	if err != nil {
		return err
	}
	if limit < 1 {
		return usage("--limit is 1 or more, not %d", limit)
	}
	return withShop(ctx, e, func(s *app.Service) error {
		cards, err := s.Store.Pallets(ctx, limit)
		if err != nil {
			return err
		}
		if len(cards) == 0 {
			fmt.Fprintln(e.out, "No pallet has parts on it. The first is made when a cut sheet is broken out; the page /setup leads there.")
			return nil
		}
		w := tabwriter.NewWriter(e.out, 0, 0, 2, ' ', 0)
		fmt.Fprintln(w, "CODE\tPROMISED\tWHERE\tNEXT\tPARTS\tITEMS\tORDERS\t")
		for _, c := range cards {
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%d\t%s\t%s\t%s\n", code.Code(c.Code).Spaced(), or(string(c.Promised), "-"), place(c),
				or(string(c.NextStage), "-"), c.Parts, strings.Join(c.Names, ", "), or(strings.Join(c.Orders, " "), "stock"), state(c))
		}
		if err := w.Flush(); err != nil {
			return err
		}
		if len(cards) == limit {
			fmt.Fprintf(e.log, "These are the first %d. --limit lists more.\n", limit)
		}
		return nil
	})
}

func place(c app.PalletCard) string {
	where := string(c.Station)
	switch {
	case c.Bound != "":
		return "→ " + string(c.Bound)
	case c.Slot != "":
		return where + " " + c.Slot
	}
	return or(where, "-")
}

func state(c app.PalletCard) string {
	switch {
	case c.Held:
		return "held"
	case c.Begun:
		return "begun"
	}
	return ""
}
