package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"strings"
	"text/tabwriter"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
)

// history tells what happened to a pallet or an order; --json writes
// app.HistoryPage.
func history(ctx context.Context, e env, args []string) error {
	asJSON := false
	what, err := parse(e, script("history"), args, 1, 1, func(set *flag.FlagSet) {
		set.BoolVar(&asJSON, "json", false, "write it as JSON, every field of every event")
	})
	if err != nil {
		return err
	}
	q := app.HistoryQuery{Order: what[0]}
	if c, err := app.ReadCode(what[0], code.Pallet, code.Sheet); err == nil {
		q = app.HistoryQuery{Pallet: core.PalletCode(c)}
	}
	return withShop(ctx, e, func(s *app.Service) error {
		page, err := s.History(ctx, q)
		switch {
		case errors.Is(err, app.ErrNotFound):
			return fmt.Errorf("nothing is recorded of %q. It is the code of a pallet or sheet, or the number of an order", what[0])
		case err != nil:
			return err
		case asJSON:
			enc := json.NewEncoder(e.out)
			enc.SetIndent("", "  ")
			return enc.Encode(page)
		}
		return writeHistory(e, page)
	})
}

func writeHistory(e env, page app.HistoryPage) error {
	fmt.Fprintln(e.out, page.Title)
	w := tabwriter.NewWriter(e.out, 0, 0, 2, ' ', 0)
	for _, x := range page.Events {
		var who []string
		for _, s := range x.Signed {
			who = append(who, fmt.Sprintf("%s (%s)", s.Name, s.Meaning))
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", x.Happened.Format("2006-01-02 15:04"), or(x.StationName, "-"), x.What, strings.Join(who, ", "))
	}
	if err := w.Flush(); err != nil {
		return err
	}
	if page.More {
		fmt.Fprintf(e.log, "These are the latest %d events; there are earlier ones.\n", len(page.Events))
	}
	return nil
}
