package postgres_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/anishathalye/porcupine"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// history is what several clients asked and were told, with the time between.
type history struct {
	mu      sync.Mutex
	began   time.Time
	decided map[core.CommandID]judged
	ops     []porcupine.Operation
}

// judged is a command with all that its decision was given beside the state.
type judged struct {
	command core.Command
	world   core.World
}

// heard is an answer as one text: events, refusal and notices, names as people
// read them.
type heard struct {
	text  string
	again bool
}

// looked is what somebody saw of some pallets and the holds, as one text.
type looked struct{ pallets []core.PalletCode }

func newHistory() *history {
	return &history{began: time.Now(), decided: map[core.CommandID]judged{}}
}

// instant is the time since the history began; by the machine's steady clock.
func (k *history) instant() int64 {
	if k == nil {
		return 0
	}
	return int64(time.Since(k.began))
}

// decide decides as the core does, and keeps what it was given. A transaction
// that is run again decides again: the last one counts.
func (k *history) decide(w core.World, c core.Command) core.Outcome {
	k.mu.Lock()
	k.decided[c.ID] = judged{c, core.World{Now: w.Now, Book: w.Book, Fresh: w.Fresh, Codes: w.Codes}}
	k.mu.Unlock()
	return core.Decide(w, c)
}

// told keeps an answer. What never came to a decision depends on no state.
func (k *history) told(a app.Answer, call int64) {
	if k == nil {
		return
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if j, ok := k.decided[a.Command]; ok {
		out := core.Outcome{Refusal: a.Refusal, Notices: a.Notices}
		for _, e := range a.Events {
			out.Events = append(out.Events, e.Event)
		}
		k.add(j.command.ID, heard{answerText(out), a.Again}, call)
	}
}

func (k *history) add(input, output any, call int64) {
	k.ops = append(k.ops, porcupine.Operation{Input: input, Output: output, Call: call, Return: k.instant()})
}

func answerText(out core.Outcome) string {
	return jsonText([]any{out.Events, out.Refusal, out.Notices})
}

func jsonText(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	return string(b)
}

// sight is what a look at pallets shows: their rows, what lies on them, and the
// open holds.
func sight(s *core.State, pallets []core.PalletCode) string {
	var out []any
	for _, code := range pallets {
		out = append(out, s.Pallets[code], s.LotsAt(core.On(code)))
	}
	for _, id := range slices.Sorted(maps.Keys(s.Holds)) {
		if s.Holds[id].Open() {
			out = append(out, s.Holds[id])
		}
	}
	return jsonText(out)
}

// glance looks at pallets through the service, as a screen does.
func (h *hall) glance(pallets []core.PalletCode) error {
	call := h.history.instant()
	w, err := h.svc.World(h.t.Context(), core.Names{Pallets: pallets}, "")
	if err != nil {
		return err
	}
	h.history.mu.Lock()
	defer h.history.mu.Unlock()
	h.history.add(looked{pallets}, sight(w.State, pallets), call)
	return nil
}

// shopWorld is the sequential model: one shop in memory that decides one command
// after the other. It is never changed, only followed by another.
type shopWorld struct {
	state   *core.State
	events  []core.Event
	answers map[core.CommandID]string
	text    func() string
}

func newShopWorld(s *core.State, events []core.Event, answers map[core.CommandID]string) *shopWorld {
	return &shopWorld{s, events, answers, sync.OnceValue(func() string { return jsonText(s) })}
}

// step reports whether the shop, deciding this next, would have said just that,
// and how it is then.
func (k *history) step(m *shopWorld, input, output any) (bool, *shopWorld) {
	if x, ok := input.(looked); ok {
		return sight(m.state, x.pallets) == output, m
	}
	id, said := input.(core.CommandID), output.(heard)
	if first, before := m.answers[id]; before || said.again {
		return before && said.again && first == said.text, m
	}
	j := k.decided[id]
	w := j.world
	w.State, w.Past = m.state, pastOf(m.events, j.command.Body)
	out := core.Decide(w, j.command)
	if answerText(named(w.Book, out)) != said.text {
		return false, m
	}
	answers := maps.Clone(m.answers)
	answers[id] = said.text
	state, events := copied(m.state), slices.Clip(m.events)
	for _, e := range out.Events {
		if err := core.Apply(state, e); err != nil {
			return false, m
		}
		events = append(events, e)
	}
	return true, newShopWorld(state, events, answers)
}

// pastOf is what a correction looks at: the event and every later one.
func pastOf(events []core.Event, body core.Body) []core.Event {
	c, ok := body.(core.Correct)
	if !ok {
		return nil
	}
	if i := slices.IndexFunc(events, func(e core.Event) bool { return e.ID == c.Event }); i >= 0 {
		return events[i:]
	}
	return nil
}

// named has persons by the names the service tells people.
func named(b *core.Book, out core.Outcome) core.Outcome {
	name := func(r core.Refusal) core.Refusal {
		if id, says := r.Params["person"]; says {
			r.Params = maps.Clone(r.Params)
			r.Params["person"] = app.PersonName(b, core.PersonID(id))
		}
		return r
	}
	if out.Refusal != nil {
		r := name(*out.Refusal)
		out.Refusal = &r
	}
	out.Notices = slices.Clone(out.Notices)
	for i, n := range out.Notices {
		out.Notices[i] = name(n)
	}
	return out
}

func copied(s *core.State) *core.State {
	return &core.State{Lots: maps.Clone(s.Lots), Pallets: maps.Clone(s.Pallets), Builds: maps.Clone(s.Builds),
		Consignments: maps.Clone(s.Consignments), Holds: maps.Clone(s.Holds), Problems: maps.Clone(s.Problems),
		Abrasives: maps.Clone(s.Abrasives), Orders: maps.Clone(s.Orders), Nests: maps.Clone(s.Nests), Snags: maps.Clone(s.Snags)}
}

// model begins with a shop in which these events have happened.
func (k *history) model(t testing.TB, before []core.Event) porcupine.Model {
	t.Helper()
	s := core.NewState()
	for _, e := range before {
		if err := core.Apply(s, e); err != nil {
			t.Fatal(err)
		}
	}
	return porcupine.Model{
		Init: func() any { return newShopWorld(s, before, map[core.CommandID]string{}) },
		Step: func(m, input, output any) (bool, any) { return k.step(m.(*shopWorld), input, output) },
		Equal: func(a, b any) bool {
			x, y := a.(*shopWorld), b.(*shopWorld)
			return x == y || x.text() == y.text()
		},
		DescribeOperation: func(input, output any) string { return k.describe(input, output) },
	}
}

func (k *history) describe(input, output any) string {
	if x, ok := input.(looked); ok {
		return fmt.Sprintf("look at %v: %s", x.pallets, output)
	}
	c := k.decided[input.(core.CommandID)].command
	said := output.(heard)
	return fmt.Sprintf("%s %s %+v by %v: again %v, %s", c.ID, c.Body.Kind(), c.Body, c.Signers, said.again, said.text)
}

// check reports whether some order of the operations, none put before one that
// had ended when it began, explains every answer.
func (k *history) check(t testing.TB, before []core.Event, ops []porcupine.Operation) bool {
	t.Helper()
	switch porcupine.CheckOperationsTimeout(k.model(t, before), ops, time.Minute) {
	case porcupine.Ok:
		return true
	case porcupine.Unknown:
		t.Fatalf("%d operations could not be checked within a minute", len(ops))
	}
	return false
}

// story says how far the operations can be put in order, and what those that are
// left were told and should have been.
func (k *history) story(t testing.TB, before []core.Event, ops []porcupine.Operation) string {
	t.Helper()
	m := k.model(t, before)
	_, info := porcupine.CheckOperationsVerbose(m, ops, time.Minute)
	var longest []porcupine.Operation
	for _, partial := range info.PartialLinearizationsOperations()[0] {
		if len(partial) > len(longest) {
			longest = partial
		}
	}
	var b strings.Builder
	world, done := m.Init().(*shopWorld), map[string]bool{}
	for _, o := range longest {
		_, world = k.step(world, o.Input, o.Output)
		done[fmt.Sprint(o.Input, o.Call)] = true
		fmt.Fprintf(&b, "%v – %v %s\n", time.Duration(o.Call), time.Duration(o.Return), k.describe(o.Input, o.Output))
	}
	b.WriteString("and then none of these:\n")
	for _, o := range ops {
		if done[fmt.Sprint(o.Input, o.Call)] {
			continue
		}
		when := fmt.Sprintf("%v – %v ", time.Duration(o.Call), time.Duration(o.Return))
		if x, look := o.Input.(looked); look {
			b.WriteString(when + "look: " + differ(o.Output.(string), sight(world.state, x.pallets)) + "\n")
			continue
		}
		j := k.decided[o.Input.(core.CommandID)]
		w := j.world
		w.State, w.Past = world.state, pastOf(world.events, j.command.Body)
		b.WriteString(when + k.describe(o.Input, o.Output) + "\n    should be " + answerText(named(w.Book, core.Decide(w, j.command))) + "\n")
	}
	return b.String()
}

// differ says from where on a text is not as it should be.
func differ(got, want string) string {
	i := 0
	for i < min(len(got), len(want)) && got[i] == want[i] {
		i++
	}
	from := max(0, i-200)
	return "…" + got[from:min(len(got), i+300)] + "\n    should be …" + want[from:min(len(want), i+300)]
}
