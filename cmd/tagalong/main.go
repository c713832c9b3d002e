// Command tagalong runs the shop's server and the few things that are done at
// the server's own machine. `tagalong help` lists them.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"text/tabwriter"
	_ "time/tzdata" // the shop's zone is known wherever this runs

	"tagalong/internal/app"
	"tagalong/internal/words"
)

// command is one word after `tagalong`.
type command struct {
	name string
	args string // as help shows them
	doc  string // one line
	run  func(ctx context.Context, e env, args []string) error
}

// env is what a command has of the world.
type env struct {
	config config
	out    io.Writer // what was asked for
	log    io.Writer // what is said on the way
}

// commands lists every command, in the order help shows them.
func commands() []command {
	return append(scripts(), []command{
		{"serve", "", "run the server until it is stopped", serve},
		{"migrate", "", "bring the database up to date", migrate},
		{"certificate", "--dir DIR [--name HOST]... [--renew]", "make the certificates for HTTPS on the shop's own network", makeCertificate},
		{"backup", "--to DIR", "write the shop into a folder: the record, the keys, their checksums", backUp},
		{"restore", "--from DIR", "put a backup back where no shop is, and verify it", restore},
		{"healthy", "", "ask the running server how it is", healthy},
		{"shop", "[--name NAME] [--zone ZONE] [--address ADDRESS]", "show or set the shop's name, time zone and printed address", shop},
		{"people", "list | first-admin --name NAME | badge --person ID | pin-code --person ID", "people and their badges", people},
		{"tablet", "list | code --station ID | revoke --tablet ID", "tablets and their stations", tablet},
		{"endpoints", "", "list every endpoint and who may call it", endpoints},
		{"refusals", "", "list every refusal: code, sentence, remedy", refusals},
		{"database-url", "", "print the address of the private database, with its password", databaseURL},
	}...)
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(run(ctx, os.Args[1:], os.Getenv, os.Stdout, os.Stderr))
}

// run is the whole program; it returns the exit code: 0, 1 for a failure, 2
// for a command line that can't be read.
func run(ctx context.Context, args []string, getenv func(string) string, out, log io.Writer) int {
	if len(args) == 0 || args[0] == "help" || args[0] == "-h" || args[0] == "--help" {
		help(out)
		return 0
	}
	for _, c := range commands() {
		if c.name != args[0] {
			continue
		}
		config, err := readConfig(getenv)
		if err == nil {
			err = c.run(ctx, env{config, out, log}, args[1:])
		}
		switch {
		case err == nil:
			return 0
		case errors.Is(err, flag.ErrHelp):
			return 2
		}
		fmt.Fprintln(log, "tagalong "+c.name+": "+sentence(err))
		if errors.Is(err, errUsage) {
			return 2
		}
		return 1
	}
	var names []string
	for _, c := range commands() {
		names = append(names, c.name)
	}
	fmt.Fprintf(log, "tagalong: there is no command %q. Nothing was done. There is %s.\n", args[0], strings.Join(names, ", "))
	return 2
}

// sentence is what a person is told of an error: a refusal in its own words.
func sentence(err error) string {
	if refused, ok := errors.AsType[*app.Refused](err); ok {
		text := words.Refusal(refused.Refusal.Code, refused.Refusal.Params)
		return text.Title + " " + text.Remedy
	}
	return err.Error()
}

func help(out io.Writer) {
	fmt.Fprint(out, "tagalong keeps a sheet-metal shop's pallets, travellers and sign-offs.\n\nCommands:\n")
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	for _, c := range commands() {
		fmt.Fprintf(w, "  tagalong %s %s\t%s\n", c.name, c.args, c.doc)
	}
	w.Flush()
	fmt.Fprint(out, "\nSettings, from the environment:\n")
	for _, s := range settings {
		fmt.Fprintf(w, "  %s\t%s\n", s.name, s.doc)
	}
	w.Flush()
}

// errUsage marks a command line that can't be read.
var errUsage = errors.New("nothing was done")

func usage(format string, args ...any) error {
	return fmt.Errorf("%s: %w. See `tagalong help`", fmt.Sprintf(format, args...), errUsage)
}

// flags parses a command's flags and takes no further words.
func flags(e env, name string, args []string, define func(*flag.FlagSet)) error {
	set := flag.NewFlagSet("tagalong "+name, flag.ContinueOnError)
	set.SetOutput(e.log)
	define(set)
	if err := set.Parse(args); err != nil {
		return flag.ErrHelp // the flag set has said it
	}
	if set.NArg() > 0 {
		return usage("%q is one word too many", set.Arg(0))
	}
	return nil
}
