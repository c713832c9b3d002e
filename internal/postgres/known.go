package postgres

import (
	"encoding/json"
	"slices"
	"sync"

	"tagalong/internal/core"
)

// maxKnown is how many rows of a kind are kept, of about 2 kB each: those of a
// shop's open orders.
const maxKnown = 8192

// known are rows by the very bytes they are stored as. Making sense of a lot
// costs more than all else about reading it, and most are as they were when they
// were last read. Like bytes are like rows, so nothing here can be out of date,
// whoever wrote since. Nobody changes a value that was read out of a state
// (core.Apply makes copies), so all worlds may share them.
type known[V any] struct {
	mu sync.Mutex
	of map[string]*V
}

// knownRows are those read most.
type knownRows struct {
	lots    known[core.Lot]
	pallets known[core.PalletRow]
	nests   known[core.Nest]
}

func (k *known[V]) read(body []byte) (*V, error) {
	k.mu.Lock()
	v, there := k.of[string(body)]
	k.mu.Unlock()
	if there {
		return v, nil
	}
	v = new(V)
	if err := json.Unmarshal(body, v); err != nil {
		return nil, err
	}
	k.keep(string(body), v)
	return v, nil
}

// keep remembers a row that was read or written as a text.
func (k *known[V]) keep(text string, v *V) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.of == nil || len(k.of) >= maxKnown {
		k.of = map[string]*V{} // those still in use are soon here again
	}
	k.of[text] = v
}

// lotBody is a lot with the text it was written as, once it has been.
type lotBody struct {
	core.Lot
	text string
}

func (b *lotBody) written(text string) { b.text = text }

// keep remembers the lots that a command wrote.
func (k *knownRows) keep(lots []*lotBody) {
	for _, b := range lots {
		k.lots.keep(b.text, &b.Lot)
	}
}

func (k *knownRows) lot(body []byte) (core.Lot, error) {
	l, err := k.lots.read(body)
	if err != nil {
		return core.Lot{}, err
	}
	return *l, nil
}

// pallet reads a pallet. What is appended to its lists is never written into
// those that others hold.
func (k *knownRows) pallet(body []byte) (core.PalletRow, error) {
	p, err := k.pallets.read(body)
	if err != nil {
		return core.PalletRow{}, err
	}
	out := *p
	out.Prints, out.GoneTo = slices.Clip(out.Prints), slices.Clip(out.GoneTo)
	return out, nil
}
