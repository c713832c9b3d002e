package postgres_test

import (
	"context"
	"errors"
	"sync"
	"testing"
	"time"

	"tagalong/internal/core"
)

// A caller that goes away in the middle leaves nothing recorded and nothing
// locked, and the same command may come again.
func TestACallerThatGoesAway(t *testing.T) {
	f := newFixture(t)
	a, _ := f.bear(t, "born", 20, core.Owner{})
	b, _ := f.bear(t, "other", 1, core.Owner{})
	for range 40 { // more often than there are connections
		ctx, cancel := context.WithCancel(t.Context())
		_, err := f.Execute(ctx, core.Command{ID: "cut", Body: asked{"test", on(a, b)}}, shaOf("cut"), func(w core.World) core.Outcome {
			cancel()
			return split("cut", a, b, 8)(w)
		})
		if !errors.Is(err, context.Canceled) {
			t.Fatalf("%v", err)
		}
	}
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	answer, err := f.Execute(ctx, core.Command{ID: "cut", Body: asked{"test", on(a, b)}}, shaOf("cut"), split("cut", a, b, 8))
	if err != nil || answer.Again || answer.Refusal != nil {
		t.Fatalf("sent again: %+v, %v", answer, err)
	}
	if got := f.parts(t, b); got != 9 {
		t.Errorf("%d parts, want 9", got)
	}
	f.verified(t)
}

// A decision that panics takes its transaction with it.
func TestADecisionThatPanics(t *testing.T) {
	f := newFixture(t)
	a, _ := f.bear(t, "born", 20, core.Owner{})
	var wg sync.WaitGroup
	for i := range 20 {
		wg.Go(func() {
			defer func() {
				if recover() == nil {
					t.Error("the panic was swallowed")
				}
			}()
			f.do(t, name("panic", i), on(a), func(core.World) core.Outcome { panic("broken rule") })
		})
	}
	wg.Wait()
	if got := f.parts(t, a); got != 20 {
		t.Errorf("%d parts, want 20", got)
	}
	f.verified(t)
}
