package app

import (
	"context"
	"math"
	"slices"
	"strconv"
	"time"

	"tagalong/internal/core"
)

// WallGroups is how many groups of stages the wall has room for at a size that
// is read from 6 m.
const WallGroups = 8

// NewStop is how long a stop counts as new: the wall never takes turns with it.
const NewStop = 15 * time.Minute

// OldRemake is how long after its decision a remake that is not there yet is
// shouted about: its order waits for it. Common practice, no source: a day.
const OldRemake = 24 * time.Hour

// Glance is the shop at one glance, in the shop's zone, in at most
// [WallGroups] groups.
func (s *Service) Glance(ctx context.Context) (Wall, error) {
	b, err := s.Book(ctx)
	if err != nil {
		return Wall{}, err
	}
	w, err := s.Store.Wall(ctx)
	if err != nil {
		return Wall{}, err
	}
	w.AsOf = inZone(w.AsOf, b)
	w.Groups = fewGroups(w.Groups, WallGroups)
	return w, nil
}

// fewGroups joins neighbours, those with the fewest pallets first, until the
// groups fit. What is joined is said: "cut, separate".
func fewGroups(in []WallGroup, most int) []WallGroup {
	out := slices.Clone(in)
	for len(out) > most && len(out) > 1 {
		at, least := 0, math.MaxInt
		for i := range len(out) - 1 {
			if n := out[i].Pallets + out[i+1].Pallets; n < least {
				at, least = i, n
			}
		}
		out[at] = joinGroups(out[at], out[at+1])
		out = slices.Delete(out, at+1, at+2)
	}
	return out
}

func joinGroups(a, b WallGroup) WallGroup {
	sum := WallGroup{
		Name: a.Name + ", " + b.Name, Pallets: a.Pallets + b.Pallets,
		Minutes: a.Minutes + b.Minutes, Held: a.Held + b.Held, Oldest: a.Oldest,
		Ages: slices.Concat(a.Ages, b.Ages),
	}
	if sum.Oldest.IsZero() || !b.Oldest.IsZero() && b.Oldest.Before(sum.Oldest) {
		sum.Oldest = b.Oldest
	}
	slices.SortStableFunc(sum.Ages, func(x, y WallAge) int { return x.Since.Compare(y.Since) })
	sum.Ages = sum.Ages[:min(len(sum.Ages), 8)]
	return sum
}

// Fresh reports whether a stop is new at the wall's time.
func (l WallLine) Fresh(now time.Time) bool { return !l.Since.IsZero() && now.Sub(l.Since) < NewStop }

// LateBy is how late an order is on a day: "+2 d". It is empty where its date
// has not passed.
func (l WallLine) LateBy(today core.Date) string {
	if n := daysBetween(l.Date, today); l.Date != "" && n > 0 {
		return "+" + strconv.Itoa(n) + " d"
	}
	return ""
}
