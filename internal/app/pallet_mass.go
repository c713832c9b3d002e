package app

import (
	"strings"

	"tagalong/internal/core"
)

// Densities in kg/m³. Aluminium: the Aluminum Association's nominal densities,
// seen in a public reproduction. 304 and its like: EN 10088-1, annex, from
// memory; some handbooks use 7930 or 8000. Steel: the handbooks' round figure,
// from memory.
var densities = []struct {
	grade   string // start of the grade, without "EN AW-"
	density float64
}{
	{"5083", 2660}, {"5052", 2680}, {"5005", 2700}, {"6063", 2700}, {"6060", 2700},
	{"304", 7900}, {"1.4301", 7900}, {"316", 8000}, {"1.4401", 8000},
}

var metalDensity = map[core.Metal]float64{core.Aluminium: 2700, core.Stainless: 7900, core.Steel: 7850}

// MassEach is the mass of one part in kilograms, by net area, thickness and
// density where the book does not say it outright; 0 where it is not known.
func MassEach(r core.Revision) float64 {
	if r.MassEach > 0 {
		return r.MassEach
	}
	area := r.NetArea
	if area == 0 {
		area = r.Length * r.Width / 1e6
	}
	if area <= 0 || r.Thickness <= 0 {
		return 0
	}
	return area * r.Thickness / 1e3 * density(r)
}

func density(r core.Revision) float64 {
	grade := strings.TrimPrefix(strings.ToUpper(strings.TrimSpace(r.Grade)), "EN AW-")
	for _, d := range densities {
		if strings.HasPrefix(grade, d.grade) {
			return d.density
		}
	}
	return metalDensity[r.Metal]
}

// MassOf is the mass of one unit of an item in kilograms: the book's, or by
// area and thickness, or the sum of its components'. It is 0 where one of them
// is not known.
func MassOf(b *core.Book, item core.ItemRev) float64 { return massOf(b, item, 20) }

func massOf(b *core.Book, item core.ItemRev, depth int) float64 {
	rev := b.Items[item]
	if m := MassEach(rev); m > 0 || len(rev.Bill) == 0 || depth == 0 {
		return m
	}
	sum := 0.0
	for _, c := range rev.Bill {
		m := massOf(b, c.Item, depth-1)
		if m == 0 {
			return 0
		}
		sum += m * float64(c.Qty)
	}
	return sum
}
