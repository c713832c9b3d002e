package app

import (
	"slices"
	"sync"
	"time"
)

// How many links that do not exist one address, and all together, may try in so
// long. A token can't be guessed; this keeps the server from being asked.
const (
	linkTriesWithin = 10 * time.Minute
	mostLinkTries   = 10
	mostLinkTriesBy = 1000 // all addresses together
)

// linkTries are the tries of links that do not exist, by where they came from.
// They are kept in memory only: a server started anew has forgotten them.
type linkTries struct {
	mu   sync.Mutex
	from map[string][]time.Time // oldest first
	all  []time.Time
}

// wait is how long until another link may be tried from an address.
func (t *linkTries) wait(from string, now time.Time) time.Duration {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.forget(now)
	return max(untilFewer(t.from[from], mostLinkTries, now), untilFewer(t.all, mostLinkTriesBy, now))
}

// missed notes that a link tried from an address does not exist.
func (t *linkTries) missed(from string, now time.Time) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.from == nil {
		t.from = map[string][]time.Time{}
	}
	t.from[from] = append(t.from[from], now)
	t.all = append(t.all, now)
}

// untilFewer is how long until fewer than so many of the tries count.
func untilFewer(tries []time.Time, most int, now time.Time) time.Duration {
	if len(tries) < most {
		return 0
	}
	return tries[len(tries)-most].Add(linkTriesWithin).Sub(now)
}

func (t *linkTries) forget(now time.Time) {
	old := func(at time.Time) bool { return now.Sub(at) >= linkTriesWithin }
	for from, tries := range t.from {
		if tries = slices.DeleteFunc(tries, old); len(tries) == 0 {
			delete(t.from, from)
		} else {
			t.from[from] = tries
		}
	}
	t.all = slices.DeleteFunc(t.all, old)
}
