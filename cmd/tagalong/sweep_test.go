package main

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"strings"
	"testing"
	"time"
)

// sweeps gives one answer for each sweep, and says when it was asked.
type sweeps struct {
	answers []error
	asked   chan int
}

func (s *sweeps) SweepPhotos(context.Context) (int, error) {
	err := s.answers[0]
	s.answers = s.answers[1:]
	s.asked <- len(s.answers)
	return 3, err
}

// The server sweeps when it starts and at every tick; a sweep that fails stops
// nothing.
func TestTheServerSweepsPhotos(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	shop := &sweeps{answers: []error{nil, errors.New("the database is away"), nil}, asked: make(chan int)}
	ticks, ended := make(chan time.Time), make(chan struct{})
	var said bytes.Buffer
	go func() {
		defer close(ended)
		sweepPhotos(ctx, shop, slog.New(slog.NewTextHandler(&said, nil)), ticks)
	}()
	for left := 2; left >= 0; left-- {
		if got := <-shop.asked; got != left {
			t.Errorf("%d sweeps left, want %d", got, left)
		}
		if left > 0 {
			ticks <- time.Now()
		}
	}
	stop()
	<-ended
	for _, want := range []string{"photos=3", "the database is away"} {
		if !strings.Contains(said.String(), want) {
			t.Errorf("it said %q, not %q", said.String(), want)
		}
	}
}
