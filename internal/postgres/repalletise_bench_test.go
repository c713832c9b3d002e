package postgres_test

import (
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/postgres/pgtest"
)

// heap puts so many lots, of so many brackets each, on one new pallet.
func (s *floor) heap(id string, lots, qty int) core.PalletCode {
	s.t.Helper()
	var code core.PalletCode
	s.do(s.t, id, core.Names{}, func(w core.World) core.Outcome {
		code = w.Fresh[0]
		effects := []core.Effect{{PalletPut: &core.PalletRow{Code: code, Kind: core.PalletCarrier, Station: "BENCH-1", Since: w.Now, Version: 1}}}
		for i := range lots {
			lot := core.LotID(fmt.Sprintf("%s/%d", id, i+1))
			effects = append(effects,
				core.Effect{LotBorn: &core.Lot{ID: lot, Item: skin, Place: core.On(code), Heats: []string{"H1"}, Arrived: w.Now}},
				core.Effect{Moved: &core.Move{Lot: lot, Item: skin, From: core.Place{Kind: core.FromSupplier}, To: core.On(code), Qty: qty}})
		}
		return happen(id, w, core.EvGoodsReceived, effects...)
	})
	return code
}

// asked does what a tablet asks: read, hashed, decided, stored, answered.
func (s *floor) asked(svc *app.Service, at core.StationID, body core.Body) {
	s.t.Helper()
	s.n++
	text, err := json.Marshal(body)
	if err != nil {
		s.t.Fatal(err)
	}
	_, err = svc.Do(s.t.Context(), app.Caller{Tablet: "tablet-1", Station: at}, body.Kind(), app.Request{
		ID: core.CommandID(fmt.Sprintf("00000000-0000-4000-8000-%012x", s.n)), Happened: s.clock.Now(), Body: text})
	if err != nil {
		s.t.Fatal(err)
	}
}

// BenchmarkRepalletising moves lots from one pallet to another in one command:
// whole ones to and fro, and one part of each onto a fresh pallet. Forty lots
// are to take no longer than three times as long as one, by the quickest of each:
// what else the machine does only slows. It is the command a tablet sends, and
// the database waits for the disk.
func BenchmarkRepalletising(b *testing.B) {
	const most = 3.0
	const rounds = 300 // at least: the quickest of fewer is chance
	for _, how := range []string{"whole", "split"} {
		b.Run(how, func(b *testing.B) {
			s := newFloorOn(b, newFixtureOn(b, pgtest.NewDurable(b)))
			svc := s.service(core.Decide)
			type pile struct {
				from, to core.PalletCode
				picks    []core.Pick
			}
			took, piles := map[int]time.Duration{}, map[int]*pile{}
			for _, lots := range []int{1, 40} {
				p := &pile{from: s.heap(name("heap", lots, b.N), lots, 1_000_000), to: s.heap(name("other", lots, b.N), 1, 1)}
				for _, l := range s.pallet(p.from).State.LotsAt(core.On(p.from)) {
					p.picks = append(p.picks, core.Pick{Lot: l.ID, Qty: l.Qty})
				}
				took[lots], piles[lots] = time.Hour, p
			}
			for range max(b.N, rounds) {
				for _, lots := range []int{1, 40} { // in turn, so that both meet the same of what else the machine does
					p := piles[lots]
					move := core.Divide{From: p.from, To: p.to, Picks: p.picks}
					if how == "split" {
						move.To = ""
						for i := range move.Picks {
							move.Picks[i].Qty = 1
						}
					}
					began := time.Now()
					s.asked(svc, "BENCH-1", move)
					took[lots] = min(took[lots], time.Since(began))
					if how == "whole" {
						p.from, p.to = p.to, p.from
					}
				}
			}
			ratio := float64(took[40]) / float64(took[1])
			b.ReportMetric(float64(took[1].Microseconds()), "µs/one-lot")
			b.ReportMetric(float64(took[40].Microseconds()), "µs/forty-lots")
			b.ReportMetric(ratio, "times")
			if ratio > most {
				b.Errorf("forty lots take %v, %.1f times as long as the %v of one, more than %.0f", took[40], ratio, took[1], most)
			}
		})
	}
}
