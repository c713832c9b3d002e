package main

import (
	"errors"
	"flag"
	"fmt"
	"strings"
)

// scripts are the commands that open the demo shop, import and export, look and print.
func scripts() []command {
	return []command{
		{"demo", "", "open the demo shop: make it in an empty database, then serve it", demo},
		{"import", "DIR", "bring in a folder of CSV files: all of it, or nothing and every wrong line named", importFolder},
		{"export", "DIR", "write everything such files can say of the shop into a folder", exportFolder},
		{"pallets", "", "list the pallets with parts on them, oldest promise first", pallets},
		{"find", "TEXT", "say where an order, customer, item, pallet or consignment is", find},
		{"history", "CODE [--json]", "tell what happened to a pallet or, by its number, to an order", history},
		{"print", "CODE|ORDER --out FILE.pdf [--size a4|a5|label]", "number a print of a pallet's traveller, or of all of an order's, and write it; or a consignment's container labels", printTravellers},
		{"signs", "[--slots A1-A12 [--station ID]] --out FILE.pdf", "draw signs for slots of the pallet store, or for every station", signs},
		{"verify", "", "compare the record with itself, with the state and with the orders", verify},
		{"rebuild", "", "make the state anew from the record", rebuild},
		{"rules", "check", "walk every route forwards once by the shop's rules", rules},
	}
}

// parse parses a command's flags, which may stand before, between or after its
// words, and returns the words: from least to most of them.
func parse(e env, c command, args []string, least, most int, define func(*flag.FlagSet)) ([]string, error) {
	set := flag.NewFlagSet("tagalong "+c.name, flag.ContinueOnError)
	set.SetOutput(e.log)
	set.Usage = func() {
		fmt.Fprintf(e.log, "usage: %s\n\n%s.\n", strings.TrimSpace("tagalong "+c.name+" "+c.args), c.doc)
		set.PrintDefaults()
	}
	if define != nil {
		define(set)
	}
	var out []string
	for {
		if err := set.Parse(args); err != nil {
			return nil, flag.ErrHelp // the flag set has said it
		}
		if args = set.Args(); len(args) == 0 {
			break
		}
		out, args = append(out, args[0]), args[1:]
	}
	switch {
	case len(out) < least:
		return nil, usage("`%s` lacks a word", strings.TrimSpace("tagalong "+c.name+" "+c.args))
	case len(out) > most:
		return nil, usage("%q is one word too many", out[most])
	}
	return out, nil
}

// script finds a command by its name.
func script(name string) command {
	for _, c := range scripts() {
		if c.name == name {
			return c
		}
	}
	return command{name: name}
}

// errFaults says that faults were found, which have been listed.
var errFaults = errors.New("see the list above")
