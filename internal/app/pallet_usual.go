package app

import (
	"context"
	"time"

	"tagalong/internal/core"
)

// Usual is how long parts were at each stage lately: the median time from the
// step before to the stage being signed, waiting, nights and weekends included.
// A stage seldom done is not in it.
type Usual map[core.StageName]time.Duration

// Through adds up what a lot's stages usually take, the first of them counted
// from when the lot came to it; 0 where nothing is known of one of them. It is
// no promise: half of all lots take longer at each stage.
func (u Usual) Through(stages []core.StageName, since, now time.Time) time.Duration {
	var d time.Duration
	for i, s := range stages {
		at, known := u[s]
		if !known {
			return 0
		}
		if i == 0 {
			at = max(0, at-now.Sub(since))
		}
		d += at
	}
	return d
}

// InSheet is where parts are that are not broken out yet.
type InSheet struct {
	Text  string        // "2 in M-1008, to be broken out"
	Cut   bool          // for certain
	Usual time.Duration // how long it usually takes from here; 0 where that is not known
}

// usually adds to what a unit misses how long it usually takes until it is
// through its own route.
func (s *Service) usually(ctx context.Context, v *BuildView) error {
	if v.Short() == 0 {
		return nil
	}
	b, err := s.Store.Book(ctx)
	if err != nil {
		return err
	}
	usual, err := s.Store.Usual(ctx)
	if err != nil {
		return err
	}
	for _, l := range v.Lines {
		usual.tell(b, l.Item, l.Not, l.Again, s.Clock())
		for i, in := range l.Cut {
			if in.Cut {
				l.Cut[i].Usual = usual.fromCut(b, l.Item, s.Clock())
			}
		}
	}
	return nil
}

// tell notes how long what is missing of an item usually takes until it is
// through its own route.
func (u Usual) tell(b *core.Book, item core.ItemRev, not []Spot, again []Again, now time.Time) {
	for i, spot := range not {
		if !spot.Held {
			not[i].Usual = u.Through(spot.left, spot.Since, now)
		}
	}
	for i, a := range again {
		if a.Cut {
			again[i].Usual = u.fromCut(b, item, now)
		}
	}
}

// fromCut is how long what is in a cut sheet usually takes.
func (u Usual) fromCut(b *core.Book, item core.ItemRev, now time.Time) time.Duration {
	return u.Through(stagesLeft(b, core.Lot{Route: b.Items[item].Route, Done: cutting(b, item)}), now, now)
}

// cutting are the steps of a part's route that are done once its sheet is cut.
func cutting(b *core.Book, item core.ItemRev) (done []int) {
	for _, s := range b.Routes[b.Items[item].Route].Steps {
		if s.Stage == "cut" {
			done = append(done, s.No)
		}
	}
	return done
}
