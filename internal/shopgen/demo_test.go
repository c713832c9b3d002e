package shopgen

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/sign"
)

// made makes a demo shop in memory that ends at now.
func made(t *testing.T, now time.Time) (*memory, Made) {
	t.Helper()
	clock, err := NewClock(now)
	if err != nil {
		t.Fatal(err)
	}
	key, err := sign.NewKey(serverKey())
	if err != nil {
		t.Fatal(err)
	}
	m := newMemory(clock.Now)
	svc, err := app.New(m, sign.NewKeyring(key))
	if err != nil {
		t.Fatal(err)
	}
	out, err := Demo(t.Context(), svc, clock)
	if err != nil {
		t.Fatal(err)
	}
	return m, out
}

func TestDemo(t *testing.T) {
	now := time.Date(2026, 11, 25, 14, 12, 0, 0, time.UTC)
	m, out := made(t, now)
	t.Logf("%+v, %d events", out, len(m.events))
	for _, e := range m.events {
		t.Log(e.Recorded.Format("Mon 15:04"), e.Station, e.Kind, e.Stage, e.Pallets, e.Ref, e.Note)
	}
	for _, c := range slices.Sorted(func(yield func(string) bool) {
		for code, p := range m.state.Pallets {
			if lots := m.state.LotsAt(core.On(code)); len(lots) > 0 {
				s := fmt.Sprint(p.Kind, " ", code, " at ", p.Station, "→", p.Bound)
				for _, l := range lots {
					next := core.NextSteps(m.book, l)
					stage := core.StageName("end")
					if len(next) > 0 {
						stage = next[0].Stage
					}
					_, held := core.HeldBy(m.state, l)
					s += fmt.Sprint("\n      ", l.Qty, " ", l.Item, " ", l.Owner, " next ", stage, " held ", held)
				}
				if !yield(s) {
					return
				}
			}
		}
	}) {
		t.Log(c)
	}
	text, _ := json.Marshal(m.events)
	t.Log(len(text))
}
