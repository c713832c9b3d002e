package shopgen

import (
	"fmt"
	"slices"
	"strings"

	"tagalong/internal/core"
)

// cut takes the first uncut sheet that suits a nest to a laser and cuts it.
func (f *floor) cut(nest string, laser, bench core.StationID) (core.PalletCode, error) {
	sheet, err := f.lay(nest, laser)
	if err != nil {
		return "", err
	}
	if _, err := f.sign(sheet, "cut"); err != nil {
		return "", err
	}
	return sheet, f.bring(sheet, bench)
}

// lay takes the first uncut sheet that suits a nest to a laser.
func (f *floor) lay(nest string, laser core.StationID) (core.PalletCode, error) {
	n, ok := f.state.Nests[nest]
	if !ok {
		return "", fmt.Errorf("no nest %s", nest)
	}
	var best core.PalletRow
	for code, p := range f.state.Pallets {
		if p.Kind != core.SheetCarrier || !f.book.Stations[p.Station].Does("goods-in") || best.Code != "" && strings.Compare(best.Label, p.Label) < 0 {
			continue
		}
		for _, l := range f.lots(code) {
			if _, waits := f.waitsFor(l, "cut"); waits && l.Item == n.Material {
				best = p
			}
		}
	}
	if best.Code == "" {
		return "", fmt.Errorf("no uncut %s for nest %s", n.Material, nest)
	}
	f.pass(2, 6)
	return best.Code, f.bring(best.Code, laser)
}

// part says where one line of a nest goes: a letter for a fresh pallet, or the
// code of one that is there.
type part struct {
	line    int
	to      string
	damaged int
}

// separate ticks a nest off at the bench where its cut sheet lies, and prints
// the travellers. It returns the pallet of each letter.
func (f *floor) separate(sheet core.PalletCode, nest string, parts ...part) (map[string]core.PalletCode, error) {
	n := f.state.Nests[nest]
	c := core.Separate{Sheet: sheet, Nest: nest}
	var letters []string
	for _, x := range parts {
		i := slices.IndexFunc(n.Parts, func(p core.NestPart) bool { return p.No == x.line })
		if i < 0 {
			return nil, fmt.Errorf("nest %s has no line %d", nest, x.line)
		}
		to := core.PalletCode(x.to)
		if len(x.to) == 1 {
			to = core.PalletCode("new:" + x.to)
			if !slices.Contains(letters, x.to) {
				letters = append(letters, x.to)
			}
		}
		c.Ticks = append(c.Ticks, core.PartTick{Line: x.line, Good: n.Parts[i].Qty - x.damaged, Damaged: x.damaged, To: to})
	}
	at := f.state.Pallets[sheet].Station
	stage, _ := f.book.Table.Stage("separate")
	who, err := f.who(at, stage, core.Step{}, nil)
	if err != nil {
		return nil, err
	}
	f.pass(8, 16)
	e, err := f.do(at, c, who)
	if err != nil {
		return nil, fmt.Errorf("nest %s: %w", nest, err)
	}
	fresh := map[string]core.PalletCode{}
	for _, effect := range e.Effects {
		p := effect.PalletPut
		if p == nil || p.Version != 1 || p.Kind != core.PalletCarrier || len(fresh) == len(letters) {
			continue
		}
		fresh[letters[len(fresh)]] = p.Code
	}
	for _, code := range e.Pallets {
		if len(f.lots(code)) > 0 {
			if err := f.print(code, at); err != nil {
				return nil, err
			}
		}
	}
	return fresh, nil
}
