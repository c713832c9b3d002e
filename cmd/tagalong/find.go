package main

import (
	"context"
	"fmt"
	"strings"

	"tagalong/internal/app"
)

func find(ctx context.Context, e env, args []string) error {
	text, err := parse(e, script("find"), args, 1, 100, nil)
	if err != nil {
		return err
	}
	return withShop(ctx, e, func(s *app.Service) error {
		found, err := s.WhereIs(ctx, strings.Join(text, " "))
		if err != nil {
			return err
		}
		fmt.Fprintln(e.out, found.Sentence)
		for _, d := range found.Details {
			fmt.Fprintln(e.out, "  "+d)
		}
		for _, h := range found.Hits {
			fmt.Fprintf(e.out, "  %s %s  %s %s\n", h.Kind, h.Key, h.Title, h.Sub)
		}
		return nil
	})
}
