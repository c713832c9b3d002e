package paper

import (
	"fmt"
	"strconv"
	"time"
)

// The pallet of the tests: three lots of two orders at three steps, one of them
// a wall panel of two colours, one held. All of it is invented.

var shopZone = time.FixedZone("shop", 3600)

func day(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, shopZone) }

func at(d, h, m int) time.Time { return time.Date(2026, 11, d, h, m, 0, 0, shopZone) }

func box(w, h float64) []Point { return []Point{{0, 0}, {w, 0}, {w, h}, {0, h}, {0, 0}} }

func slot(x, y, w, h float64) []Point {
	return []Point{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}, {x, y}}
}

func louvres() [][]Point {
	paths := [][]Point{box(1180, 620)}
	for i := range 5 {
		paths = append(paths, slot(180, 110+float64(i)*90, 820, 26))
	}
	return paths
}

func exampleTraveller() Traveller {
	fold := "90° ± 0.5°, flange 25 ± 0.3 mm"
	aluminium := Metal{Grade: "5005-H32", Family: Aluminium, ThicknessMM: 3}
	return Traveller{
		Code: "P4K7 M2QX", Address: "HTTPS://TAGALONG.EXAMPLE/P/P4K7M2QX/2",
		Print: 2, Replaces: 1, PrintedAt: at(25, 14, 6), PrintedWhere: "Separation bench 1", PrintedBy: "M. Okafor",
		Shop: "Corrie Sheetworks", Notice: "Invented demo data: no such shop, people or orders.",
		CarrierKg: 18,
		Lots: []Lot{{
			Letter: "A", Item: "ENC-2400-W2", Name: "wall panel, louvre side", Revision: "C",
			Order: "4117", Line: "2", Customer: "Larkfield Hospital, north roof", Promised: day(2026, 12, 3),
			Count: 4, Metal: aluminium, MassEachKg: 5.12, Sheets: []Sheet{{"S-0931", "77K20"}},
			Finish:  []Finish{{"out", "basalt, textured"}, {"in", "chalk, smooth"}},
			Outline: Outline{Paths: louvres()},
			Steps: []Step{
				{Stage: "separate", LookAt: "no tabs left, no scratches on the face side", Done: true, SignedBy: "M. Okafor", At: at(25, 13, 58), Good: 4},
				{Stage: "edge-round", LookAt: "both sides; run a gloved finger along every edge", Next: true},
				{Stage: "fold", LookAt: fold},
				{Kind: Storage, Stage: "set for weld", LookAt: "with pallets P9CD 2FHT, PM3N 8RWA, PT6V 4EJK"},
				{Stage: "weld", LookAt: "TIG, drawing 2400-10; leave the roof seam undressed"},
				{Stage: "weld-dress", LookAt: "flush; break the edges again"},
				{Kind: Inspection, Stage: "weld-inspect", LookAt: "ISO 10042 level C; 500 lx at the seam", HoldPoint: true, NotTheWelder: true},
				{Stage: "mask inside, pretreat", LookAt: "coat starts within 16 h of pretreatment"},
				{Stage: "coat, cure: chalk in", LookAt: "outside masked; oven log number"},
				{Stage: "key, coat, cure: basalt out", LookAt: "inside masked and cured"},
				{Kind: Inspection, Stage: "coat-inspect", LookAt: "each face: mean ≥ 60 µm, no area under 48 µm"},
				{Stage: "pack", LookAt: "foam between faces, card corners, timber ends"},
				{Kind: Transport, Stage: "load, ship", LookAt: "leaves Wed 2 Dec, long haul"},
			},
		}, {
			Letter: "B", Item: "ENC-2400-D1", Name: "door leaf", HandMarking: "left hand", Revision: "B",
			Order: "4117", Line: "4", Customer: "Larkfield Hospital, north roof", Promised: day(2026, 12, 3),
			Count: 2, Metal: aluminium, MassEachKg: 13.4, Sheets: []Sheet{{"S-0931", "77K20"}, {"S-0934", "77K21"}},
			Finish:  []Finish{{"out", "basalt, textured"}, {"in", "chalk, smooth"}},
			Outline: Outline{Paths: [][]Point{box(840, 1900), slot(700, 900, 60, 120)}},
			Holds:   []Hold{{Reason: "Scratches on the face side of 1 of 2", Since: at(25, 13, 40), By: "P. Lindqvist", Release: "a coat inspector who looks at both leaves"}},
			Steps: []Step{
				{Stage: "separate", LookAt: "no tabs left, no scratches on the face side", Done: true, SignedBy: "M. Okafor", At: at(25, 13, 31), Good: 2},
				{Stage: "edge-round", LookAt: "both sides", Done: true, SignedBy: "J. Abara", At: at(25, 13, 36), Good: 2},
				{Stage: "fold", LookAt: fold, Next: true},
				{Stage: "rivet-nut", LookAt: "M6, 6 of 6 square and tight"},
				{Stage: "coat, cure: chalk in, basalt out", LookAt: "two coats, threads masked"},
				{Kind: Inspection, Stage: "coat-inspect", LookAt: "each face: mean ≥ 60 µm, no area under 48 µm"},
				{Stage: "pack", LookAt: "stand upright"},
			},
		}, {
			Letter: "C", Item: "ENC-1800-B7", Name: "hinge bracket", Revision: "A",
			Order: "4120", Line: "9", Customer: "Oxbow School, plant deck", Promised: day(2026, 12, 9),
			Count: 18, Metal: Metal{Grade: "304", Family: StainlessSteel, ThicknessMM: 2}, MassEachKg: 0.316,
			Sheets: []Sheet{{"S-0940", "81M07"}}, CutHazard: true,
			Concessions: []Concession{{Number: "C-14", Reason: "hole 6.1 for 6.0 accepted on these 18", Signers: []string{"R. Tan", "P. Lindqvist"}}},
			Outline:     Outline{Paths: [][]Point{{{0, 0}, {60, 0}, {60, 70}, {140, 70}, {140, 110}, {0, 110}, {0, 0}}, slot(20, 20, 12, 12), slot(112, 84, 12, 12)}},
			Steps: []Step{
				{Stage: "separate", LookAt: "count twice", Done: true, SignedBy: "M. Okafor", At: at(25, 13, 50), Good: 18, NotGood: 1},
				{Stage: "fold", LookAt: "90° ± 1°", Done: true, SignedBy: "J. Abara", At: at(25, 14, 1), Good: 18},
				{Kind: Delay, Stage: "wait for clips", LookAt: "due Fri 27 Nov"},
				{Kind: Inspection, Stage: "final-check", LookAt: "edges as cut: label the pack", Next: true},
				{Stage: "pack", LookAt: "bags of 6"},
			},
		}},
	}
}

func exampleBadges() []Badge {
	people := [][2]string{
		{"Mina Okafor", "part separation"}, {"Jonas Abara", "edge rounding, folding"}, {"Pia Lindqvist", "weld inspection"},
		{"Rui Tan", "quality manager"}, {"Wilhelmina Featherstonehaugh-Montgomery", "welding: TIG, aluminium"},
		{"Sol Brandt", "powder coat"}, {"Ada Ferro", "coat inspection"}, {"Ked Ural", "dispatch"},
		{"Noor Haddad", "hardware"}, {"Tess Moran", "customer service"}, {"Ivo Leclerc", "administration"},
	}
	var out []Badge
	for i, p := range people {
		out = append(out, Badge{Shop: "Corrie Sheetworks", Name: p[0], Role: p[1],
			Number: fmt.Sprintf("badge %03d", i+1), Token: fmt.Sprintf("TB1:%026d", 7919*(i+1)), Notice: "Invented demo data"})
	}
	return out
}

func exampleSigns() []Sign {
	return []Sign{
		{Shop: "Corrie Sheetworks", Name: "Edge rounding line 1", Code: "S3RQ 8TXA", Address: "HTTPS://TAGALONG.EXAMPLE/S/S3RQ8TXA",
			Stages: []string{"edge-round"}, Cautions: []string{"Aluminium belts only: none that ever touched steel.", "Running belt, sharp parts: gloves and sleeves as the site rules say, hearing protection."}, Notice: "Invented demo data"},
		{Shop: "Corrie Sheetworks", Name: "Inspection bay for welds and weld dressing, east hall", Code: "S9PL 2KMD", Address: "HTTPS://TAGALONG.EXAMPLE/S/S9PL2KMD",
			Stages: []string{"weld-inspect", "final-check"}, Cautions: []string{"Hot seams."}, Notice: "Invented demo data"},
	}
}

func examplePackingList() PackingList {
	p := PackingList{
		Code: "C7TW 5HGE", Address: "HTTPS://TAGALONG.EXAMPLE/C/C7TW5HGE/1", Number: 1, PrintedAt: at(27, 10, 20), PrintedBy: "K. Ural",
		Shop: "Corrie Sheetworks", Notice: "Invented demo data", Customer: "Larkfield Hospital, north roof", ShipTo: "Gate 3, Larkfield",
		Leaves: day(2026, 12, 2), Promised: day(2026, 12, 3), Packaging: "long haul: foam between faces, card corners, side boards, heat-treated timber (ISPM 15 mark)",
		Packages: []Package{
			{Code: "P4K7 M2QX", Kind: "pallet", SizeMM: "1200 × 800 × 640 mm", MassKg: 86.4, Note: "stand panels upright"},
			{Code: "P9CD 2FHT", Kind: "pallet", SizeMM: "2400 × 1200 × 400 mm", MassKg: 214, Note: "base frame, sling at the eyes"},
			{Code: "K2MM 71QA", Kind: "box", SizeMM: "600 × 400 × 300 mm", MassKg: 11.2, Note: "hardware kit, fitting guide"},
		},
		Missing: []MissingLine{{Order: "4117", Line: "9", Item: "ENC-2400-H4 latch plate", Count: 2, Where: "pallet PT6V 4EJK at Spray booth 2", Due: "ready Thu 3 Dec"}},
		Remarks: []string{"Left- and right-hand door leaves look alike: read the hand on the label before fitting."},
	}
	for i, n := range []string{"base frame", "wall panel, louvre side", "wall panel, plain", "door leaf, left hand", "door leaf, right hand", "roof tray", "louvre bank", "cable tray", "latch plate", "lifting-eye set", "hardware kit"} {
		packed := 2 + i%3
		asked := packed
		if n == "latch plate" {
			asked += 2
		}
		p.Lines = append(p.Lines, PackedLine{Order: "4117", Line: strconv.Itoa(i + 1), Item: fmt.Sprintf("ENC-2400-X%d", i+1), Name: n, Revision: "B", Asked: asked, Packed: packed, In: p.Packages[i%3].Code})
	}
	return p
}
