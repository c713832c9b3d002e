package main

import (
	"context"
	"errors"
	"fmt"

	"tagalong/internal/postgres"
	"tagalong/internal/privatepg"
)

// verify lists what the record and the state disagree about, and ends with one
// line of counts. It fails where there is a fault.
func verify(ctx context.Context, e env, args []string) (err error) {
	if _, err := parse(e, script("verify"), args, 0, 0, nil); err != nil {
		return err
	}
	shop, err := open(ctx, e, shared, postgres.Options{MaxConns: 2})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, shop.Close()) }()
	report, faults, err := shop.Store.Verify(ctx)
	if err != nil {
		return err
	}
	for _, f := range faults {
		fmt.Fprintln(e.out, f)
	}
	short := 0
	for _, s := range report.Short {
		short += s.Asked - s.Shipped - s.Live - s.ToCut
	}
	fmt.Fprintf(e.out, "%d events, %d moves, %d lots, %d rows, %d order lines, %s verified up to event %d; %d parts still to be made; %s\n",
		report.Events, report.Moves, report.Lots, report.Rows, report.OrderLines, countOf(report.Photos, "photo", "photos"), report.Seq, short, countOf(len(faults), "fault", "faults"))
	if len(faults) > 0 {
		return fmt.Errorf("the record and the state disagree: %w. Nothing was changed. `tagalong rebuild` makes the state anew from the record; "+
			"where the record itself is at fault, put a backup back", errFaults)
	}
	return nil
}

// rebuild makes the state anew from the record, as the owner of the schema.
func rebuild(ctx context.Context, e env, args []string) (err error) {
	if _, err := parse(e, script("rebuild"), args, 0, 0, nil); err != nil {
		return err
	}
	o := &opened{}
	defer func() { err = errors.Join(err, o.Close()) }()
	owner, err := o.reach(ctx, e.config, e.log, shared)
	if err != nil {
		return err
	}
	if e.config.DatabaseURL == "" {
		if owner, err = privatepg.URL(e.config.Data, database, privatepg.OwnerRole); err != nil {
			return err
		}
	}
	events, err := postgres.Rebuild(ctx, owner)
	if err != nil {
		return err
	}
	fmt.Fprintf(e.out, "The state was made anew from %s.\n", countOf(events, "event", "events"))
	return nil
}
