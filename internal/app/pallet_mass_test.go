package app

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"tagalong/internal/core"
)

// Masses against published densities and worked geometry; each case in
// testdata/checks/mass.json names its source and whether it was computed.
func TestMassAgainstPublishedDensities(t *testing.T) {
	text, err := os.ReadFile("../../testdata/checks/mass.json")
	if err != nil {
		t.Fatal(err)
	}
	var cases []struct {
		ID    string
		Input struct {
			Alloy, Grade string
			Length       float64 `json:"length_mm"`
			Width        float64 `json:"width_mm"`
			Thickness    float64 `json:"thickness_mm"`
			Density      float64
			Holes        []struct {
				Count    float64
				Diameter float64 `json:"diameter_mm"`
			}
		}
		Expect map[string]float64
	}
	if err := json.Unmarshal(text, &cases); err != nil {
		t.Fatal(err)
	}
	checked := 0
	for _, c := range cases {
		for grade, want := range c.Expect {
			checked++
			rev := core.Revision{Grade: c.Input.Alloy, Metal: core.Aluminium, Thickness: c.Input.Thickness, Length: c.Input.Length, Width: c.Input.Width}
			switch grade {
			case "mass":
			case "net_mass":
				rev.NetArea = c.Input.Length * c.Input.Width / 1e6
				for _, h := range c.Input.Holes {
					rev.NetArea -= h.Count * math.Pi * h.Diameter * h.Diameter / 4e6
				}
			case "density": // a cubic metre weighs its density
				_, name, _ := strings.Cut(c.Input.Grade, " / ")
				rev = core.Revision{Grade: name, Thickness: 1000, NetArea: 1}
			default:
				rev = core.Revision{Grade: grade, Thickness: 1000, NetArea: 1}
			}
			if got := MassEach(rev); math.Abs(got-want) > 1e-5*want {
				t.Errorf("%s: %s weighs %.5f kg, want %.5f", c.ID, grade, got, want)
			}
		}
	}
	if checked < 10 {
		t.Fatalf("only %d values checked", checked)
	}
}
