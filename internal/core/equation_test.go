package core_test

import (
	"flag"
	"fmt"
	"maps"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tagalong/internal/core"
	"tagalong/internal/crowd"
)

// The order equation over random commands: a few thousand of them here, as many
// as TAGALONG_SOAK_COMMANDS says in the soak. A run that fails is made as short
// as it can be and still fail.
func TestEveryPartIsAccountedForOverRandomCommands(t *testing.T) {
	walked := equationWalk(t, 250, 60)
	for range 3 { // what is rare may want a longer walk, by chance
		if len(walked.blind()) > 0 {
			walked.add(equationWalk(t, 250, 60))
		}
	}
	t.Log(walked)
	for _, k := range walked.blind() {
		t.Errorf("the walk never came to %s: it is blind there", k)
	}
}

func TestSoakTheEquation(t *testing.T) {
	text := os.Getenv("TAGALONG_SOAK_COMMANDS")
	if text == "" {
		t.Log("make soak sets TAGALONG_SOAK_COMMANDS; a few thousand commands are in the test of the same walk")
		return
	}
	want, err := strconv.Atoi(text)
	if err != nil || want < 1 {
		t.Fatalf("TAGALONG_SOAK_COMMANDS is %q, not a count of commands", text)
	}
	began, total := time.Now(), tally{}
	seed := uint64(began.UnixNano())
	if text := os.Getenv("TAGALONG_SOAK_SEED"); text != "" {
		if seed, err = strconv.ParseUint(text, 10, 64); err != nil {
			t.Fatalf("TAGALONG_SOAK_SEED is %q, not a number", text)
		}
	}
	t.Logf("TAGALONG_SOAK_SEED=%d", seed)
	for ; total.sent() < want; seed += 1_000_003 {
		setFlag(t, "rapid.seed", strconv.FormatUint(seed, 10))
		total.add(equationWalk(t, 500, 60))
		t.Logf("%d commands in %v", total.sent(), time.Since(began).Round(time.Second))
	}
	t.Logf("%d commands, %d accepted, in %v\n%v", total.sent(), total.done(), time.Since(began).Round(time.Second), total)
}

// equationKinds are what the walk has to come to, each accepted at least once:
// what people do, where one command does several things.
var equationKinds = []string{
	"separate", "separate with damaged", "separate with missing", "separate with extra", "remake cut",
	"divide", "divide several lots", "divide mid-step", "fuse", "fuse a declared mix", "recount less", "recount more",
	"change-owner to stock", "change-owner lent", "change-owner from stock", "report-problem", "report-problem all, staying",
	"dispose rework", "dispose use-as-is", "dispose scrap", "dispose remake",
	"gather", "put-back", "assemble", "assemble a kit", "dispose rework, changing", "join-late", "begin-unit", "take-apart", "load", "ship", "receive-at-site",
	"receive one box", "receive, a box missing", "receive short or damaged", "receive one order", "turn-up", "report-problem at site", "return from site", "work at site",
	"correct", "place-hold", "lift-hold", "sign-off", "sign-off some bad", "sign-off some not done", "sign-off onto others", "settle", "take-in", "take-in to a slot", "receive-goods", "enlist", "begin",
	"weigh", "print", "hand-over", "take-back", "report-snag", "put-right-snag", "close-snag",
}

// tally is how often each kind was sent, and done.
type tally map[string]count

type count struct{ sent, done int }

// blind lists what was never accepted.
func (c tally) blind() (out []string) {
	for _, k := range equationKinds {
		if c[k].done == 0 {
			out = append(out, k)
		}
	}
	return out
}

func (c tally) note(kind string, r *core.Refusal) {
	n := c[kind]
	n.sent++
	if r == nil {
		n.done++
	}
	c[kind] = n
}

func (c tally) add(more tally) {
	for k, n := range more {
		c[k] = count{c[k].sent + n.sent, c[k].done + n.done}
	}
}

func (c tally) sent() (n int) {
	for _, x := range c {
		n += x.sent
	}
	return n
}

func (c tally) done() (n int) {
	for _, x := range c {
		n += x.done
	}
	return n
}

func (c tally) String() string {
	var b strings.Builder
	for _, k := range slices.Sorted(maps.Keys(c)) {
		fmt.Fprintf(&b, "%-30s %8d accepted %8d refused\n", k, c[k].done, c[k].sent-c[k].done)
	}
	return b.String()
}

// equationWalk walks so many shops for about so many actions each, and says what
// it came to. The seed of a run that fails is printed with it.
func equationWalk(t *testing.T, shops, actions int) tally {
	t.Helper()
	setFlag(t, "rapid.checks", strconv.Itoa(shops))
	setFlag(t, "rapid.steps", strconv.Itoa(actions))
	setFlag(t, "rapid.nofailfile", "true")
	begin := equationShops(t)
	kept := make([]*crowd.Books, len(begin))
	for i, s := range begin {
		kept[i] = crowd.NewBooks(s.book)
		w := &walker{shop: s, books: kept[i]}
		if err := w.judge(); err != nil {
			t.Fatalf("before anybody walks: %v", err)
		}
	}
	walked := tally{}
	rapid.Check(t, func(rt *rapid.T) {
		i := rapid.IntRange(0, len(begin)-1).Draw(rt, "begins in")
		x := &walker{shop: begin[i].fork(), books: kept[i].Fork(), read: len(begin[i].events), rt: rt, tally: walked}
		x.t = rt
		rt.Repeat(x.actions())
		x.agrees()
	})
	return walked
}

// walker is somebody who walks in a shop in memory, with the books beside it.
type walker struct {
	*shop
	books *crowd.Books
	read  int // events booked so far
	rt    *rapid.T
	tally tally
}

func (x *walker) actions() map[string]func(*rapid.T) {
	w := &crowd.Walk{Book: x.book, Floor: x, Chance: x, Tag: "M-"}
	out := map[string]func(*rapid.T){}
	for _, a := range w.Acts() {
		for i := range a.Often {
			out[a.Name+strings.Repeat(" ", i)] = func(rt *rapid.T) { x.rt = rt; x.do(a) }
		}
	}
	return out
}

func (x *walker) State() *core.State { return x.state }
func (x *walker) Now() time.Time     { return x.now }

func (x *walker) Latest() []core.EventID {
	var out []core.EventID
	for _, e := range x.events[max(0, len(x.events)-13):] {
		out = append(out, e.ID)
	}
	return out
}

// Send sends a command and judges what it came to.
func (x *walker) Send(name string, c core.Command, signers ...core.PersonID) core.Outcome {
	out := x.send(c, signers...)
	x.tally.note(name, out.Refusal)
	x.rt.Logf("%s %+v by %v: %+v", name, c.Body, signers, out.Refusal)
	if out.Refusal != nil && out.Refusal.Code == "record-disagrees" {
		x.rt.Fatalf("%s: no rule refused what the state does not take: %v", name, out.Refusal)
	}
	if err := x.judge(); err != nil {
		x.rt.Fatalf("after %s: %v", name, err)
	}
	return out
}

func (x *walker) judge() error {
	for ; x.read < len(x.events); x.read++ {
		if err := x.books.Post(x.events[x.read]); err != nil {
			return err
		}
	}
	return x.books.Judge(x.state)
}

func (x *walker) UpTo(n int, label string) int { return rapid.IntRange(0, n).Draw(x.rt, label) }

// nothing is what an action that finds nothing to be about ends with.
type nothing struct{}

func (x *walker) Nothing(string) { panic(nothing{}) }

// do does an action; one that finds nothing to be about is over. The walk's test
// fails where a kind of command is never accepted.
func (x *walker) do(a crowd.Act) {
	defer func() {
		if r := recover(); r != nil && r != any(nothing{}) {
			panic(r)
		}
	}()
	a.Do()
}

// setFlag sets a flag of the property tests for one test.
func setFlag(t *testing.T, name, value string) {
	t.Helper()
	f := flag.Lookup(name)
	was := f.Value.String()
	if err := flag.Set(name, value); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := flag.Set(name, was); err != nil {
			t.Error(err)
		}
	})
}
