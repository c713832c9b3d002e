package postgres_test

import (
	"fmt"
	"sync/atomic"
	"testing"

	"tagalong/internal/core"
)

// BenchmarkExecute records events on pallets of each tablet's own: the cost of
// a command beside the decision itself, on a server that doesn't wait for the
// disk.
func BenchmarkExecute(b *testing.B) {
	for _, tablets := range []int{1, 8, 32} {
		b.Run(fmt.Sprintf("tablets=%d", tablets), func(b *testing.B) {
			f := newFixture(b)
			codes := make([]core.PalletCode, tablets)
			lots := make([]core.LotID, tablets)
			for i := range codes {
				codes[i], lots[i] = f.bear(b, name("born", i), 20, core.Owner{})
			}
			b.ResetTimer()
			var done, n atomic.Int64
			wait := make(chan struct{})
			for tablet := range tablets {
				go func() {
					defer func() { wait <- struct{}{} }()
					for n.Add(1) <= int64(b.N) {
						id := fmt.Sprintf("sign-%d-%d", tablet, done.Add(1))
						code, lot := codes[tablet], lots[tablet]
						f.do(b, id, on(code), func(w core.World) core.Outcome {
							p := w.State.Pallets[code]
							p.Version++
							out := happen(id, w, core.EvSigned, core.Effect{PalletPut: &p},
								core.Effect{Given: &core.FactGiven{Lot: lot, Fact: core.Fact{Name: core.EdgesRounded}, Value: core.Yes}})
							out.Events[0].Signed = []core.Signature{{Person: "P1", Meaning: core.MeantMade, At: w.Now, Tablet: "T1"}}
							return out
						})
					}
				}()
			}
			for range tablets {
				<-wait
			}
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "commands/s")
		})
	}
}
