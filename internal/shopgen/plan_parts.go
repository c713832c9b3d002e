package shopgen

import (
	"tagalong/internal/core"
)

// frameParts cuts what a base frame and the lifting eyes need, and returns the
// jobs that bring the parts to weld bench 1.
func (f *floor) frameParts() ([]*job, error) {
	plate, err := f.cut("N-7009", "LASER-2", "BENCH-1")
	if err != nil {
		return nil, err
	}
	on, err := f.separate(plate, "N-7009", part{line: 2, to: "A"}, part{line: 3, to: "A"}, part{line: 4, to: "B"}, part{line: 5, to: "B"}, part{line: 1, to: "C"})
	if err != nil {
		return nil, err
	}
	rails, err := f.cut("N-7011", "TUBE-1", "BENCH-2")
	if err != nil {
		return nil, err
	}
	bars, err := f.separate(rails, "N-7011", part{line: 1, to: "A"}, part{line: 2, to: "A"})
	if err != nil {
		return nil, err
	}
	crosses, err := f.cut("N-7012", "TUBE-1", "BENCH-2")
	if err != nil {
		return nil, err
	}
	if _, err := f.separate(crosses, "N-7012", part{line: 1, to: string(bars["A"])}); err != nil {
		return nil, err
	}
	return []*job{
		{pallet: on["A"], to: "WELD-1"},
		{pallet: bars["A"], to: "WELD-1"},
		{pallet: on["B"], to: "WELD-3"},
		{pallet: on["C"], stop: before("tap"), to: "HARDWARE-1"},
	}, nil
}

// skins cuts the roof tray, the covers and the first wall skins.
func (f *floor) skins() ([]*job, error) {
	roof, err := f.cut("N-7001", "LASER-1", "BENCH-1")
	if err != nil {
		return nil, err
	}
	on, err := f.separate(roof, "N-7001", part{line: 1, to: "A"}, part{line: 3, to: "B"}, part{line: 2, to: "C"}, part{line: 6, to: "C"},
		part{line: 4, to: "D"}, part{line: 5, to: "D"})
	if err != nil {
		return nil, err
	}
	var walls map[string]core.PalletCode
	for _, nest := range []string{"N-7002", "N-7003"} {
		sheet, err := f.cut(nest, "LASER-2", "BENCH-2")
		if err != nil {
			return nil, err
		}
		to := []part{{line: 1, to: "A"}, {line: 2, to: "A"}}
		if walls != nil {
			to = []part{{line: 1, to: string(walls["A"])}, {line: 2, to: string(walls["A"])}}
		}
		made, err := f.separate(sheet, nest, to...)
		if err != nil {
			return nil, err
		}
		if walls == nil {
			walls = made
		}
	}
	posts, err := f.posts()
	if err != nil {
		return nil, err
	}
	return []*job{
		{pallet: on["A"], stop: before("coat-inspect"), to: "COAT-TABLE-1"},
		{pallet: on["B"], stop: before("pretreat"), to: "PRETREAT-1"},
		{pallet: on["C"], to: "WELD-3"},
		{pallet: on["D"], to: "HARDWARE-1"},
		{pallet: walls["A"], to: "WELD-2"},
		{pallet: posts, to: "WELD-2"},
	}, nil
}

// posts cuts four of the eight wall posts; the rest stay uncut.
func (f *floor) posts() (core.PalletCode, error) {
	var on map[string]core.PalletCode
	for _, nest := range []string{"N-7013", "N-7014"} {
		bar, err := f.cut(nest, "TUBE-1", "BENCH-2")
		if err != nil {
			return "", err
		}
		to := part{line: 1, to: "A"}
		if on != nil {
			to.to = string(on["A"])
		}
		made, err := f.separate(bar, nest, to)
		if err != nil {
			return "", err
		}
		if on == nil {
			on = made
		}
	}
	return on["A"], nil
}

// doorParts cuts the door skins, stiles and rails of two orders. One skin is
// bent wrong at the brake.
func (f *floor) doorParts() ([]*job, error) {
	first, err := f.cut("N-7007", "LASER-1", "BENCH-1")
	if err != nil {
		return nil, err
	}
	on, err := f.separate(first, "N-7007", part{line: 1, to: "A"}, part{line: 2, to: "A"}, part{line: 3, to: "A"}, part{line: 5, to: "A"},
		part{line: 6, to: "A"}, part{line: 4, to: "B"})
	if err != nil {
		return nil, err
	}
	second, err := f.cut("N-7008", "LASER-2", "BENCH-1")
	if err != nil {
		return nil, err
	}
	more, err := f.separate(second, "N-7008", part{line: 1, to: "C"}, part{line: 2, to: string(on["B"])},
		part{line: 3, to: string(on["A"])}, part{line: 4, to: string(on["A"])}, part{line: 5, to: string(on["A"])})
	if err != nil {
		return nil, err
	}
	return []*job{
		{pallet: on["A"], to: "WELD-3", flaws: map[core.StageName][]flaw{"fold": {{"DS-R", 1, "bent to 95°, cracked at the hem"}}}},
		{pallet: on["B"], stop: before("fold"), to: "BRAKE-2"},
		{pallet: more["C"], stop: before("pretreat"), to: "PRETREAT-1", onWay: true},
	}, nil
}

// bankParts cuts the blades and sides of four louvre banks.
func (f *floor) bankParts() ([]*job, error) {
	sides, err := f.cut("N-7018", "LASER-1", "BENCH-1")
	if err != nil {
		return nil, err
	}
	on, err := f.separate(sides, "N-7018", part{line: 4, to: "A"}, part{line: 1, to: "B"}, part{line: 2, to: "C"}, part{line: 3, to: "C"},
		part{line: 5, to: "C"}, part{line: 6, to: "C"})
	if err != nil {
		return nil, err
	}
	blades, err := f.cut("N-7031", "LASER-2", "BENCH-1")
	if err != nil {
		return nil, err
	}
	if _, err := f.separate(blades, "N-7031", part{line: 1, to: string(on["A"])}, part{line: 2, to: string(on["C"])}); err != nil {
		return nil, err
	}
	return []*job{
		{pallet: on["A"], to: "HARDWARE-1"},
		{pallet: on["B"], stop: before("edge-round"), to: "ROUND-AL"},
		{pallet: on["C"], stop: before("fold"), to: "BRAKE-1"},
	}, nil
}
