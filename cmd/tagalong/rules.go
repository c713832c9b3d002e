package main

import (
	"context"
	"fmt"

	"tagalong/internal/app"
	"tagalong/internal/core"
	lang "tagalong/internal/words"
)

// rules walks the route of every item forwards once and lists what the shop's
// rules would refuse though all before it was done in order.
func rules(ctx context.Context, e env, args []string) error {
	what, err := parse(e, script("rules"), args, 1, 1, nil)
	if err != nil {
		return err
	}
	if what[0] != "check" {
		return usage("there is no `tagalong rules %s`; there is `tagalong rules check`", what[0])
	}
	return withShop(ctx, e, func(s *app.Service) error {
		book, err := s.Book(ctx)
		if err != nil {
			return err
		}
		walked, findings := core.WalkAll(book)
		for _, f := range findings {
			said := lang.Refusal(f.Refusal.Code, f.Refusal.Params)
			fmt.Fprintf(e.out, "%s, route %s, step %d %s: %s %s\n", f.Item, f.Route, f.Step.No, f.Step.Stage, said.Title, said.Remedy)
		}
		fmt.Fprintf(e.out, "%s walked to the end of their routes; %s\n", countOf(walked, "item", "items"), countOf(len(findings), "finding", "findings"))
		if len(findings) > 0 {
			return fmt.Errorf("a route can't be worked to its end: %w. Change the route or its stage, and check again", errFaults)
		}
		return nil
	})
}
