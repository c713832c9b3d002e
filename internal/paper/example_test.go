package paper

import (
	"encoding/json"
	"fmt"
	"os"
	"strconv"
	"time"

	"tagalong/internal/code"
)

// The pallet of the tests: three lots of two orders at three steps, one of them
// a wall panel of two colours, one held. All of it is invented.

var shopZone = time.FixedZone("shop", 3600)

func day(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, shopZone) }

func at(d, h, m int) time.Time { return time.Date(2026, 11, d, h, m, 0, 0, shopZone) }

// exampleTraveller reads the traveller that the HTML form is tested with too.
func exampleTraveller() Traveller {
	b, err := os.ReadFile("testdata/traveller.json")
	if err != nil {
		panic(err)
	}
	var t Traveller
	if err := json.Unmarshal(b, &t); err != nil {
		panic(err)
	}
	return t
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
		Code: "C7TW 5HGE", Address: "HTTPS://TAGALONG.EXAMPLE/C/C7TW5HGE", PrintedAt: at(27, 10, 20), PrintedBy: "K. Ural",
		Shop: "Corrie Sheetworks", Notice: "Invented demo data", Customer: "Larkfield Hospital, north roof", ShipTo: "Gate 3, Larkfield",
		Leaves: day(2026, 12, 2), Promised: day(2026, 12, 3), Packaging: "long haul: foam between faces, card corners, side boards, heat-treated timber (ISPM 15 mark)",
		Packages: []Package{
			{Code: "P4K7 M2QX", Kind: "pallet", SizeMM: "1200 × 800 × 640 mm", MassKg: 86.4, Note: "stand panels upright"},
			{Code: "P9CD 2FHT", Kind: "pallet", SizeMM: "2400 × 1200 × 400 mm", MassKg: 214, Note: "base frame, sling at the eyes"},
			{Code: "K2MM 71QA", Kind: "box", SizeMM: "600 × 400 × 300 mm", MassKg: 11.2, Note: "hardware kit, fitting guide"},
		},
		Missing: []MissingLine{{Order: "4117", Line: "9", Item: "ENC-2400-H4 latch plate", Count: 2, Where: "pallet PT6V 4EJK at Spray booth 2"}},
		Remarks: []string{"Left- and right-hand door leaves look alike: read the hand on the label before fitting."},
	}
	for i, n := range []string{"base frame", "wall panel, louvre side", "wall panel, plain", "door leaf, left hand", "door leaf, right hand", "roof tray", "louvre bank", "cable tray", "latch plate", "lifting-eye set", "hardware kit"} {
		packed := 2 + i%3
		asked := packed
		if n == "latch plate" {
			asked += 2
		}
		p.Lines = append(p.Lines, PackedLine{Order: "4117", Line: strconv.Itoa(i + 1), Item: fmt.Sprintf("ENC-2400-X%d", i+1), Name: n, Revision: "B", Asked: asked, Packed: packed, In: p.Packages[i%3].Code, When: "Tue 1 Dec 14:05 KU"})
	}
	return p
}

// linkedPackingList is printed with a link for the site.
func linkedPackingList() PackingList {
	p := examplePackingList()
	p.Link = SiteLink{Address: "HTTPS://TAGALONG.EXAMPLE/L/MZXW6YTBOI5XG2DJORZWK3TFMRQW42LONFXGO5DIMV4HIZLTORSA", Until: day(2027, 1, 1)}
	return p
}

func exampleContainers() []ContainerLabel {
	full := ContainerLabel{Kind: "pallet", Code: "P4K7 M2QX", Address: "HTTPS://TAGALONG.EXAMPLE/P/P4K7M2QX", Consignment: "C7TW 5HGE", No: 1, Of: 3,
		Orders: []OrderPart{{"4117", 1, 3}}, Customer: "Larkfield Hospital Estates", Site: "Larkfield Hospital, north roof, gate 3", Leaves: day(2026, 12, 2), MassKg: 68.4, GrossKg: 96.5,
		Marks: []Mark{Fragile, ThisWayUp, KeepDry}, Shop: "Corrie Sheetworks", Notice: "Invented demo data", CutHazard: true}
	for i, n := range []string{"wall panel, louvre side", "wall panel, plain", "door leaf, left hand", "door leaf, right hand", "roof tray", "latch plate"} {
		full.Contents = append(full.Contents, Content{Count: 2 + i, Item: fmt.Sprintf("ENC-2400-X%d rev B", i+1), Name: n})
	}
	box := full
	box.Kind, box.Code, box.Address, box.No, box.MassKg, box.GrossKg = "box", "PKM2 7QA4", "HTTPS://TAGALONG.EXAMPLE/P/PKM27QA4", 2, 11.2, 0
	box.Orders = []OrderPart{{"4117", 2, 3}}
	box.Contents, box.CutHazard = []Content{{1, "KIT-2400 rev A", "hardware kit with fitting guide"}}, false
	loose := ContainerLabel{Kind: "pallet", Code: "P9CD 2FHT", Address: "HTTPS://TAGALONG.EXAMPLE/P/P9CD2FHT", Orders: []OrderPart{{Order: "4120"}, {Order: "4121"}},
		Customer: "Oxbow School", Site: "not set", Shop: "Corrie Sheetworks", Contents: []Content{{18, "ENC-1800-B7 rev A", "hinge bracket"}}}
	return []ContainerLabel{full, box, loose}
}

func examplePlaces() []PlaceSign {
	var out []PlaceSign
	for _, p := range []string{"A1", "A2", "A3", "B1", "B2", "C10", "C11", "C12-TOP", "EAST 1"} {
		out = append(out, PlaceSign{Shop: "Corrie Sheetworks", Store: "pallet store", Place: p, Address: code.PlaceAddress("HTTPS://TAGALONG.EXAMPLE", code.Place{Station: "STORE-1", Slot: p}), Notice: "Invented demo data"})
	}
	return out
}
