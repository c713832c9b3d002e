package postgres

import (
	"tagalong/internal/code"
	"tagalong/internal/core"
)

// fewCodes is enough for every command but those counted in codesFor.
const fewCodes = 3

// mostCodes bounds what one command may make.
const mostCodes = 200

// codesFor is how many carriers a command could make at most.
func codesFor(body core.Body) (pallets, sheets int) {
	switch b := body.(type) {
	case core.ReceiveGoods:
		n := min(max(b.Qty, fewCodes), mostCodes)
		return n, n
	case core.Separate:
		return min(max(len(b.Ticks)+fewCodes, 40), mostCodes), 1
	case core.SignOff:
		return min(len(b.Lots)+fewCodes, mostCodes), 1
	}
	return fewCodes, 1
}

// fresh draws codes. One that is in use already, which hardly ever comes, is
// found when its row is inserted, and the command is run again with others.
func (s *Store) fresh(body core.Body) (core.World, error) {
	pallets, sheets := codesFor(body)
	var w core.World
	var err error
	w.Fresh = draw[core.PalletCode](s, code.Pallet, pallets, &err)
	w.Codes.Sheets = draw[core.PalletCode](s, code.Sheet, sheets, &err)
	w.Codes.Builds = draw[core.BuildCode](s, code.Unit, fewCodes, &err)
	w.Codes.Consignments = draw[core.ConsignmentCode](s, code.Consignment, 1, &err)
	return w, err
}

// draw adds nothing once an error has occurred.
func draw[T ~string](s *Store, kind code.Kind, n int, failed *error) []T {
	out := make([]T, 0, n)
	for range n {
		if *failed != nil {
			return nil
		}
		var c code.Code
		c, *failed = code.New(kind, s.random)
		out = append(out, T(c))
	}
	return out
}

// texts turns named strings into plain ones; never nil.
func texts[T ~string](in []T) []string {
	out := make([]string, len(in))
	for i, t := range in {
		out[i] = string(t)
	}
	return out
}
