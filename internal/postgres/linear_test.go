package postgres_test

import (
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"tagalong/internal/core"
	"tagalong/internal/crowd"
)

// recorded is a hall in which a history is kept from now on, and what happened
// before.
func (h *hall) recorded() []core.Event {
	h.history = newHistory()
	h.svc.Decide = h.history.decide
	return h.log()
}

// Tablets race over a few pallets, lots, slots, trucks and a gauge: whatever they
// are told, events and refusals to the letter, and whatever is seen meanwhile, is
// what one shop would say that does one thing after the other, in some order that
// puts nothing before what had ended when it began.
func TestARaceIsLikeOneThingAfterTheOther(t *testing.T) { race(t, 14, crowdSeed(t, 11)) }

func TestSoakTheRace(t *testing.T) {
	text := os.Getenv("TAGALONG_SOAK_RACES")
	if text == "" {
		t.Log("make soak sets TAGALONG_SOAK_RACES; a few are in the test of the same race")
		return
	}
	races, err := strconv.Atoi(text)
	if err != nil || races < 1 {
		t.Fatalf("TAGALONG_SOAK_RACES is %q, not a count", text)
	}
	seed := crowdSeed(t, uint64(time.Now().UnixNano()))
	for n := 0; n < races; n += 20 { // a shop that grows old makes the model slow
		race(t, min(20, races-n), seed+uint64(n))
	}
}

func race(t *testing.T, races int, seed uint64) {
	const clients = 4
	h := openHall(t)
	r := rand.New(rand.NewPCG(seed, 9))
	all := make([]*tablet, clients)
	for i := range all {
		all[i] = h.tablet("L-"+strconv.Itoa(i), r.Uint64())
	}
	h.stockUp(all[0])
	sum := struct{ ops, accepted, looks, again int }{}
	for range races {
		before := h.recorded()
		h.run(all, r)
		ops := h.history.ops
		if !h.history.check(t, before, ops) {
			t.Fatalf("seed %d: no order of these explains the answers:\n%s", seed, h.history.story(t, before, ops))
		}
		for _, o := range ops {
			sum.ops++
			switch x := o.Output.(type) {
			case string:
				sum.looks++
			case heard:
				if x.again {
					sum.again++
				} else if !strings.HasPrefix(x.text, "[null") {
					sum.accepted++
				}
			}
		}
		h.history = nil
		h.svc.Decide = core.Decide
	}
	t.Logf("seed %d: %d races of %d tablets, %d operations: %d commands accepted, %d sent again, %d looks", seed, races, clients, sum.ops, sum.accepted, sum.again, sum.looks)
	if sum.accepted < 5*races || sum.looks < 5*races || sum.again < races {
		t.Errorf("the races come to little: %+v", sum)
	}
}

// stockUp has some parts cut, so that there is something to race for.
func (h *hall) stockUp(x *tablet) {
	for _, n := range []string{"N-1", "N-2", "N-3"} {
		h.separate(n, map[bool]core.ItemRev{true: crowd.Bar, false: crowd.Sheet}[n == "N-2"])
	}
	x.dice = seeded(1, 1)
	for range 12 {
		x.seen = nil
		x.do(x.walk.Acts()[x.draw(x.ids)])
	}
}

// run has the tablets go through a few ideas, several at once at each: they see
// the same, mean the same rows and want mostly different amounts of them. Every
// third command is sent twice, as after an answer that was lost, and meanwhile
// somebody looks.
func (h *hall) run(all []*tablet, r *rand.Rand) {
	const ideas = 6
	over := make(chan struct{})
	var looking, acting sync.WaitGroup
	pallets := h.someSeen(r)
	looking.Go(func() {
		for n := 0; n < 20; n++ {
			if err := h.glance(pallets); err != nil {
				h.t.Errorf("look: %v", err)
			}
			select {
			case <-over:
				return
			default:
			}
		}
	})
	rows, acts, amounts := make([]uint64, ideas), make([][]int, ideas), r.Uint64()
	for i := range ideas {
		rows[i] = r.Uint64()
		for range 4 {
			acts[i] = append(acts[i], all[0].draw(r))
		}
	}
	for i, x := range all {
		x.twice = true
		acting.Go(func() {
			for k := range ideas {
				x.seen = nil
				for _, a := range acts[k] { // whoever finds nothing to do looks for something else
					x.dice = seeded(rows[k], amounts+uint64(i%2))
					if x.do(x.walk.Acts()[a]) {
						break
					}
				}
			}
		})
	}
	acting.Wait()
	close(over)
	looking.Wait()
}

// someSeen are a few pallets with parts on them.
func (h *hall) someSeen(r *rand.Rand) []core.PalletCode {
	s := must(h.state())(h.t)
	var out []core.PalletCode
	for code := range s.Pallets {
		if len(s.LotsAt(core.On(code))) > 0 {
			out = append(out, code)
		}
	}
	slices.Sort(out)
	r.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	return out[:min(4, len(out))]
}
