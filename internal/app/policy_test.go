package app

import (
	"encoding/json"
	"go/ast"
	"go/parser"
	"go/token"
	"reflect"
	"slices"
	"strconv"
	"testing"
	"time"

	"tagalong/internal/core"
)

// TestPolicies is who may ask for what, written out by hand.
func TestPolicies(t *testing.T) {
	type policy struct {
		from    From
		signers int
		meaning core.Meaning
		roles   []core.Role
	}
	roles := func(r ...core.Role) []core.Role { return r }
	want := map[string]policy{
		"enlist":          {FromOffice, 0, "", roles(core.Admin, core.Manager)},
		"receive-goods":   {FromEither, 1, core.MeantReceived, nil},
		"separate":        {FromTablet, 1, core.MeantMade, nil},
		"take-in":         {FromTablet, 0, "", nil},
		"hand-over":       {FromTablet, 0, "", nil},
		"begin":           {FromTablet, 0, "", nil},
		"sign-off":        {FromTablet, 1, "", nil},
		"divide":          {FromTablet, 0, "", nil},
		"fuse":            {FromTablet, 1, core.MeantMade, nil},
		"gather":          {FromTablet, 0, "", nil},
		"put-back":        {FromTablet, 0, "", nil},
		"assemble":        {FromTablet, 1, core.MeantMade, nil},
		"begin-unit":      {FromTablet, 0, "", nil},
		"take-apart":      {FromTablet, 1, core.MeantMade, nil},
		"join-late":       {FromTablet, 1, core.MeantMade, nil},
		"report-problem":  {FromEither, 1, core.MeantInspected, nil},
		"dispose":         {FromEither, 1, core.MeantReleased, roles(core.Quality, core.Inspector)},
		"place-hold":      {FromEither, 1, core.MeantInspected, roles(core.Inspector, core.Quality, core.Manager)},
		"lift-hold":       {FromEither, 1, core.MeantReleased, roles(core.Inspector, core.Quality)},
		"settle":          {FromEither, 1, core.MeantInspected, roles(core.Inspector, core.Quality)},
		"recount":         {FromEither, 1, core.MeantInspected, nil},
		"change-owner":    {FromEither, 1, core.MeantReleased, roles(core.Manager, core.Dispatcher)},
		"print-traveller": {FromEither, 0, "", nil},
		"load":            {FromTablet, 0, "", nil},
		"take-back":       {FromTablet, 0, "", nil},
		"weigh":           {FromTablet, 0, "", nil},
		"ship":            {FromEither, 1, core.MeantReleased, roles(core.Dispatcher)},
		"receive-at-site": {FromEither, 1, core.MeantReceived, roles(core.Fitter)},
		"work-at-site":    {FromEither, 1, "", roles(core.Fitter, core.Dispatcher)},
		"turn-up":         {FromEither, 1, core.MeantReceived, roles(core.Fitter)},
		"report-snag":     {FromEither, 1, core.MeantInspected, roles(core.Fitter, core.Dispatcher, core.Inspector, core.Quality, core.Manager)},
		"put-right-snag":  {FromEither, 1, core.MeantMade, roles(core.Fitter)},
		"close-snag":      {FromEither, 1, core.MeantMade, roles(core.Fitter, core.Dispatcher, core.Quality, core.Manager)},
		"correct":         {FromEither, 1, core.MeantMade, nil},
	}
	for _, p := range Commands {
		w, ok := want[p.Kind()]
		if !ok {
			t.Errorf("%s has a policy and none is wanted", p.Kind())
			continue
		}
		delete(want, p.Kind())
		if got := (policy{p.From, p.Signers, p.Meaning, p.Roles}); !reflect.DeepEqual(got, w) {
			t.Errorf("%s: %+v, want %+v", p.Kind(), got, w)
		}
		if p.Dock != (p.Kind() == "load" || p.Kind() == "weigh" || p.Kind() == "take-back") {
			t.Errorf("%s at a dock only: %v", p.Kind(), p.Dock)
		}
		if p.Doc == "" {
			t.Errorf("%s has no doc", p.Kind())
		}
	}
	for kind := range want {
		t.Errorf("%s has no policy", kind)
	}
}

// TestEveryCommandOfTheCoreHasAPolicy reads the core's sources for the kinds of
// its commands.
func TestEveryCommandOfTheCoreHasAPolicy(t *testing.T) {
	file, err := parser.ParseFile(token.NewFileSet(), "../core/names.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, d := range file.Decls {
		f, ok := d.(*ast.FuncDecl)
		if !ok || f.Name.Name != "Kind" {
			continue
		}
		kind, err := strconv.Unquote(f.Body.List[0].(*ast.ReturnStmt).Results[0].(*ast.BasicLit).Value)
		if err != nil {
			t.Fatal(err)
		}
		n++
		if _, ok := PolicyOf(kind); !ok {
			t.Errorf("the core knows the command %s and it has no policy", kind)
		}
	}
	if n != len(Commands) {
		t.Errorf("%d commands in the core, %d policies", n, len(Commands))
	}
}

// TestExamplesAreTaken: what the page of commands shows can be sent.
func TestExamplesAreTaken(t *testing.T) {
	for _, p := range Commands {
		text, err := json.Marshal(p.Example)
		if err != nil {
			t.Fatal(err)
		}
		body, err := p.decode(text)
		if err != nil {
			t.Errorf("%s: %v in %s", p.Kind(), err, text)
			continue
		}
		if !reflect.DeepEqual(body, p.Example) {
			t.Errorf("%s: %+v comes back as %+v", p.Kind(), p.Example, body)
		}
	}
}

func TestAdmits(t *testing.T) {
	tablet := Caller{Tablet: "t-1", Station: "S"}
	manager := Caller{Person: "p", Name: "N", Roles: []core.Role{core.Manager}}
	fitter := Caller{Person: "p", Name: "N", Roles: []core.Role{core.Fitter}}
	both := Caller{Tablet: "t-1", Station: "S", Person: "p", Roles: []core.Role{core.Fitter}}
	for _, x := range []struct {
		kind   string
		caller Caller
		code   string
	}{
		{"take-in", tablet, ""},
		{"take-in", both, ""},
		{"take-in", manager, "needs-tablet"},
		{"take-in", Caller{}, "unenrolled-tablet"},
		{"take-in", Caller{Revoked: true}, "tablet-revoked"},
		{"print-traveller", tablet, ""},
		{"print-traveller", fitter, ""},
		{"print-traveller", Caller{}, "unenrolled-tablet"},
		{"enlist", manager, ""},
		{"enlist", fitter, "role-lacking"},
		{"enlist", both, "role-lacking"},
		{"enlist", tablet, "needs-sign-in"},
		{"ship", fitter, ""}, // who signs is what counts
	} {
		p, ok := PolicyOf(x.kind)
		if !ok {
			t.Fatalf("no policy for %s", x.kind)
		}
		got := ""
		if err := p.admits(x.caller); err != nil {
			got = err.(*Refused).Refusal.Code
		}
		if got != x.code {
			t.Errorf("%s by %+v: %q, want %q", x.kind, x.caller, got, x.code)
		}
	}
}

func TestMeaningOf(t *testing.T) {
	table := core.DefaultStages()
	book := &core.Book{Table: table}
	off, _ := PolicyOf("sign-off")
	for name, stage := range table.Stages {
		got, err := meaningOf(off, book, core.SignOff{Stage: name}, 0, "")
		if err != nil || got != stage.Meaning {
			t.Errorf("signing off %s means %q (%v), want %q", name, got, err, stage.Meaning)
		}
	}
	if got, err := meaningOf(off, book, core.SignOff{Stage: "fold"}, 1, ""); err != nil || got != core.MeantApproved {
		t.Errorf("a second signer means %q (%v)", got, err)
	}
	if got, err := meaningOf(off, book, core.SignOff{Stage: "fold"}, 0, core.MeantReleased); err != nil || got != core.MeantReleased {
		t.Errorf("a meaning that is said: %q (%v)", got, err)
	}
	if _, err := meaningOf(off, book, core.SignOff{Stage: "fold"}, 0, "liked"); err == nil {
		t.Error("a meaning that doesn't exist is taken")
	}
}

// TestBodySHA: what is asked for and by whom counts; what a second sending may
// change doesn't.
func TestBodySHA(t *testing.T) {
	base := core.Command{ID: "a", Station: "S", Body: core.TakeIn{Pallet: "P"}, Signers: []core.Signature{{Person: "p", Meaning: core.MeantMade}}}
	sum := func(change func(*core.Command)) [32]byte {
		c := base
		c.Signers = slices.Clone(base.Signers)
		change(&c)
		sha, err := bodySHA(c.Body.Kind(), c, c.Happened)
		if err != nil {
			t.Fatal(err)
		}
		return sha
	}
	first := sum(func(*core.Command) {})
	for name, change := range map[string]func(*core.Command){
		"sequence": func(c *core.Command) { c.Device.Sequence = 9 },
		"contact":  func(c *core.Command) { c.Device.LastContact = c.Happened.Add(1) },
	} {
		if sum(change) != first {
			t.Errorf("%s changes the hash", name)
		}
	}
	for name, change := range map[string]func(*core.Command){
		"body":    func(c *core.Command) { c.Body = core.TakeIn{Pallet: "Q"} },
		"kind":    func(c *core.Command) { c.Body = core.PrintTraveller{Pallet: "P"} },
		"station": func(c *core.Command) { c.Station = "T" },
		"time":    func(c *core.Command) { c.Happened = c.Happened.Add(1) },
		"confirm": func(c *core.Command) { c.Confirm = []string{"x"} },
		"waive":   func(c *core.Command) { c.Waive = []core.Waiver{{Code: "x"}} },
		"signer":  func(c *core.Command) { c.Signers[0].Person = "q" },
		"meaning": func(c *core.Command) { c.Signers[0].Meaning = core.MeantInspected },
		"print":   func(c *core.Command) { c.Signers[0].PrintSeen = 3 },
		"no sign": func(c *core.Command) { c.Signers = nil },
	} {
		if sum(change) == first {
			t.Errorf("%s does not change the hash", name)
		}
	}
}

// TestBelieved: a device's time counts between the server's last answer and now.
func TestBelieved(t *testing.T) {
	now := time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)
	for _, x := range []struct{ happened, contact, want string }{
		{"13:50", "13:40", "13:50"}, // as it should be
		{"13:30", "13:40", "13:40"}, // a clock that is behind
		{"16:00", "13:40", "14:00"}, // a clock that is ahead
		{"16:00", "15:00", "14:00"}, // nonsense
		{"06:10", "06:00", "06:10"}, // a morning without the server
	} {
		at := func(clock string) time.Time {
			c, err := time.Parse("15:04", clock)
			if err != nil {
				t.Fatal(err)
			}
			return time.Date(2026, 11, 25, c.Hour(), c.Minute(), 0, 0, time.UTC)
		}
		if got := believed(Request{Happened: at(x.happened), LastContact: at(x.contact)}, now); !got.Equal(at(x.want)) {
			t.Errorf("said %s, last contact %s: %v, want %s", x.happened, x.contact, got, x.want)
		}
	}
	if got := believed(Request{Happened: now.Add(-time.Hour)}, now); !got.Equal(now) {
		t.Errorf("without a last contact: %v", got)
	}
}
