package main

import (
	"context"
	"flag"
	"fmt"
	"text/tabwriter"

	"tagalong/internal/privatepg"
	"tagalong/internal/words"
	"tagalong/web/endpoint"
	"tagalong/web/screens"
	"tagalong/web/server"
)

// table is every endpoint there is. Nothing is asked of a service that isn't
// there before a request comes.
func table() []endpoint.Endpoint {
	return append(server.Own(nil), screens.Endpoints(nil)...)
}

func endpoints(_ context.Context, e env, args []string) error {
	if err := flags(e, "endpoints", args, func(*flag.FlagSet) {}); err != nil {
		return err
	}
	w := tabwriter.NewWriter(e.out, 0, 0, 2, ' ', 0)
	for _, x := range table() {
		fmt.Fprintf(w, "%s\t%s\t%s\n", x.Method, x.Path, x.Access)
	}
	return w.Flush()
}

func refusals(_ context.Context, e env, args []string) error {
	if err := flags(e, "refusals", args, func(*flag.FlagSet) {}); err != nil {
		return err
	}
	_, err := fmt.Fprint(e.out, words.Table())
	return err
}

func databaseURL(_ context.Context, e env, args []string) error {
	if err := flags(e, "database-url", args, func(*flag.FlagSet) {}); err != nil {
		return err
	}
	url := e.config.DatabaseURL
	if url == "" {
		var err error
		if url, err = privatepg.URL(e.config.Data, database, privatepg.AppRole); err != nil {
			return err
		}
	}
	_, err := fmt.Fprintln(e.out, url)
	return err
}
