package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"text/tabwriter"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/postgres"
)

// withShop opens the shop for one command.
func withShop(ctx context.Context, e env, use func(*app.Service) error) error {
	shop, err := open(ctx, e, shared, postgres.Options{MaxConns: 2})
	if err != nil {
		return err
	}
	return errors.Join(use(shop.App), shop.Close())
}

// word takes the first word after a command that has several forms.
func word(name string, args []string) (string, []string, error) {
	if len(args) == 0 {
		return "", nil, usage("`tagalong %s` needs another word", name)
	}
	return args[0], args[1:], nil
}

func people(ctx context.Context, e env, args []string) error {
	what, rest, err := word("people", args)
	if err != nil {
		return err
	}
	var name, id string
	define := func(set *flag.FlagSet) {
		switch what {
		case "first-admin":
			set.StringVar(&name, "name", "", "the person's name")
		case "badge", "pin-code":
			set.StringVar(&id, "person", "", "the person's number, as `tagalong people list` shows it")
		}
	}
	if err := flags(e, "people "+what, rest, define); err != nil {
		return err
	}
	forms := map[string]func(*app.Service) error{
		"list":        func(s *app.Service) error { return listPeople(ctx, e, s) },
		"first-admin": func(s *app.Service) error { return firstAdmin(ctx, e, s, name) },
		"badge":       func(s *app.Service) error { return newBadge(ctx, e, s, core.PersonID(id)) },
		"pin-code":    func(s *app.Service) error { return newPINCode(ctx, e, s, core.PersonID(id)) },
	}
	use, ok := forms[what]
	if !ok {
		return usage("there is no `tagalong people %s`", what)
	}
	return withShop(ctx, e, use)
}

func listPeople(ctx context.Context, e env, s *app.Service) error {
	rows, err := s.People(ctx, app.Machine())
	if err != nil {
		return err
	}
	w := tabwriter.NewWriter(e.out, 0, 0, 2, ' ', 0)
	for _, r := range rows {
		fmt.Fprintf(w, "%s\t%s\t%s\tbadge: %s\tPIN: %s\tleft: %s\n", r.ID, r.Name, roles(r.Roles), yes(r.HasBadge()), yes(r.HasPIN()), yes(r.Left))
	}
	return w.Flush()
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

func roles(all []core.Role) string {
	out := ""
	for i, r := range all {
		if i > 0 {
			out += ","
		}
		out += string(r)
	}
	return out
}

func firstAdmin(ctx context.Context, e env, s *app.Service, name string) error {
	if name == "" {
		return usage("--name is missing")
	}
	p, badge, one, err := s.FirstAdmin(ctx, name)
	if err != nil {
		return err
	}
	fmt.Fprintf(e.out, "%s (%s) is the shop's first admin.\n", p.Name, p.ID)
	fmt.Fprintf(e.out, "Badge, shown this once:              %s\n", badge.Text())
	fmt.Fprintf(e.out, "Code to set the PIN, for an hour:    %s\n", one.Text())
	fmt.Fprintln(e.out, "Open the page /set-pin, type both and choose a PIN; then sign in, print yourself a badge and end this one.")
	return nil
}

func newBadge(ctx context.Context, e env, s *app.Service, id core.PersonID) error {
	badge, p, err := s.IssueBadge(ctx, app.Machine(), id)
	if err != nil {
		return err
	}
	fmt.Fprintf(e.out, "Badge of %s, shown this once; the one before has ended: %s\n", p.Name, badge.Text())
	return nil
}

func newPINCode(ctx context.Context, e env, s *app.Service, id core.PersonID) error {
	one, p, err := s.PINCode(ctx, app.Machine(), id)
	if err != nil {
		return err
	}
	fmt.Fprintf(e.out, "Code for %s to set a PIN on the page /set-pin, for an hour: %s\n", p.Name, one.Text())
	return nil
}

func tablet(ctx context.Context, e env, args []string) error {
	what, rest, err := word("tablet", args)
	if err != nil {
		return err
	}
	var station, id string
	define := func(set *flag.FlagSet) {
		switch what {
		case "code":
			set.StringVar(&station, "station", "", "the station's number")
		case "revoke":
			set.StringVar(&id, "tablet", "", "the tablet's number, as `tagalong tablet list` shows it")
		}
	}
	if err := flags(e, "tablet "+what, rest, define); err != nil {
		return err
	}
	forms := map[string]func(*app.Service) error{
		"list": func(s *app.Service) error { return listTablets(ctx, e, s) },
		"code": func(s *app.Service) error {
			one, err := s.EnrolmentCode(ctx, app.Machine(), core.StationID(station))
			if err != nil {
				return err
			}
			fmt.Fprintf(e.out, "Code to enrol a tablet to %s on the page /enrol, for an hour: %s\n", station, one.Text())
			return nil
		},
		"revoke": func(s *app.Service) error { return s.RevokeTablet(ctx, app.Machine(), core.TabletID(id)) },
	}
	use, ok := forms[what]
	if !ok {
		return usage("there is no `tagalong tablet %s`", what)
	}
	return withShop(ctx, e, use)
}

func listTablets(ctx context.Context, e env, s *app.Service) error {
	all, err := s.Tablets(ctx, app.Machine())
	if err != nil {
		return err
	}
	w := tabwriter.NewWriter(e.out, 0, 0, 2, ' ', 0)
	for _, t := range all {
		state := "enrolled"
		if !t.Revoked.IsZero() {
			state = "revoked"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", t.ID, t.Station, t.Enrolled.UTC().Format("2006-01-02T15:04Z"), state)
	}
	return w.Flush()
}

func shop(ctx context.Context, e env, args []string) error {
	var name, zone, address string
	err := flags(e, "shop", args, func(set *flag.FlagSet) {
		set.StringVar(&name, "name", "", "the shop's name")
		set.StringVar(&zone, "zone", "", "its IANA time zone, such as Europe/London")
		set.StringVar(&address, "address", e.config.Address, "what printed addresses begin with")
	})
	if err != nil {
		return err
	}
	return withShop(ctx, e, func(s *app.Service) error {
		row, err := s.Shop(ctx)
		if err != nil && !errors.Is(err, app.ErrNotFound) {
			return err
		}
		before := row
		row.Name, row.Zone, row.Address = or(name, row.Name), or(zone, row.Zone), or(address, row.Address)
		if row != before {
			if err := s.SetShop(ctx, app.Machine(), row); err != nil {
				return err
			}
		}
		fmt.Fprintf(e.out, "name     %s\nzone     %s\naddress  %s\n", row.Name, row.Zone, row.Address)
		return nil
	})
}

func or(a, b string) string {
	if a != "" {
		return a
	}
	return b
}
