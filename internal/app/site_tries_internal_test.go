package app

import (
	"strconv"
	"testing"
	"time"
)

// One address waits after its tenth miss until the first is old enough; all wait
// when too many were missed together; what is old is not kept.
func TestHowLongWhoGuessesWaits(t *testing.T) {
	at := time.Date(2026, 11, 26, 8, 0, 0, 0, time.UTC)
	var tries linkTries
	for i := range mostLinkTries {
		if wait := tries.wait("a", at); wait != 0 {
			t.Fatalf("try %d waits %v", i, wait)
		}
		tries.missed("a", at)
		at = at.Add(time.Second)
	}
	if wait := tries.wait("a", at); wait != linkTriesWithin-mostLinkTries*time.Second {
		t.Errorf("waits %v", wait)
	}
	if wait := tries.wait("b", at); wait != 0 {
		t.Errorf("another waits %v", wait)
	}
	if wait := tries.wait("a", at.Add(linkTriesWithin-mostLinkTries*time.Second)); wait != 0 {
		t.Errorf("still waits %v", wait)
	}
	for i := range mostLinkTriesBy {
		tries.missed(strconv.Itoa(i), at)
	}
	if wait := tries.wait("b", at); wait <= 0 {
		t.Error("a thousand addresses may go on")
	}
	if wait := tries.wait("b", at.Add(linkTriesWithin)); wait != 0 || len(tries.from)+len(tries.all) > 0 {
		t.Errorf("waits %v, keeps %d addresses", wait, len(tries.from))
	}
}
