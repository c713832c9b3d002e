package paper

import (
	"encoding/json"
	"os"
	"testing"
)

type check struct {
	ID     string          `json:"id"`
	Expect json.RawMessage `json:"expect"`
	Source string          `json:"source"`
}

// findCheck reads one published value of testdata/checks/paper.json.
func findCheck(t *testing.T, id string, into any) {
	t.Helper()
	b, err := os.ReadFile("../../testdata/checks/paper.json")
	if err != nil {
		t.Fatal(err)
	}
	var all []check
	if err := json.Unmarshal(b, &all); err != nil {
		t.Fatal(err)
	}
	for _, c := range all {
		if c.ID == id {
			if err := json.Unmarshal(c.Expect, into); err != nil {
				t.Fatalf("check %s (%s): %v", id, c.Source, err)
			}
			return
		}
	}
	t.Fatalf("no check %s", id)
}

func checkMM(t *testing.T, id string) [2]float64 {
	t.Helper()
	var e struct{ MM [2]float64 }
	findCheck(t, id, &e)
	return e.MM
}

// The thresholds of the lifting note are the largest and smallest guideline
// weights of the HSE lifting filter (INDG143, L23; zone weights from memory).
func TestLiftThresholds(t *testing.T) {
	men, women := map[string][2]float64{}, map[string][2]float64{}
	findCheck(t, "hse-zones-men", &men)
	findCheck(t, "hse-zones-women", &women)
	most := func(zones map[string][2]float64) (hi, lo float64) {
		lo = 1e9
		for _, z := range zones {
			hi, lo = max(hi, z[0], z[1]), min(lo, z[0], z[1])
		}
		return hi, lo
	}
	menMost, _ := most(men)
	womenMost, womenLeast := most(women)
	if menMost != liftMenMost || womenMost != liftWomenMost || womenLeast != liftWomenLeast {
		t.Fatalf("thresholds %d %d %d, filter has %g %g %g", liftMenMost, liftWomenMost, liftWomenLeast, menMost, womenMost, womenLeast)
	}
	seen := map[string]bool{}
	for _, kg := range []float64{0, womenLeast, womenMost, menMost, menMost + 0.001} {
		seen[LiftNote(kg)] = true
	}
	if len(seen) != 5 {
		t.Errorf("five bands of mass have %d notes", len(seen))
	}
	if LiftNote(womenLeast+0.001) != LiftNote(womenMost) || LiftNote(womenMost+0.001) != LiftNote(menMost) {
		t.Error("a guideline weight itself belongs to the band below it")
	}
}
