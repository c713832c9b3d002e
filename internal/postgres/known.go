package postgres

import (
	"encoding/json"
	"sync"

	"tagalong/internal/core"
)

// maxKnownLots is how many lots are kept, of about 2 kB each: those of a shop's
// open orders.
const maxKnownLots = 8192

// knownLots are lots by the very bytes they are stored as. Making sense of a
// lot costs more than all else about reading it, and most are as they were when
// they were last read. Like bytes are like lots, so nothing here can be out of
// date, whoever wrote since. Nobody changes a value that was read out of a
// state (core.Apply makes copies), so all worlds may share them.
type knownLots struct {
	mu sync.Mutex
	of map[string]*lotBody
}

// lotBody is a lot with the text it was written as, once it has been.
type lotBody struct {
	core.Lot
	text string
}

func (b *lotBody) written(text string) { b.text = text }

func (k *knownLots) read(body []byte) (core.Lot, error) {
	k.mu.Lock()
	l, known := k.of[string(body)]
	k.mu.Unlock()
	if known {
		return l.Lot, nil
	}
	l = &lotBody{text: string(body)}
	if err := json.Unmarshal(body, &l.Lot); err != nil {
		return l.Lot, err
	}
	k.keep([]*lotBody{l})
	return l.Lot, nil
}

// keep remembers lots that were read or written.
func (k *knownLots) keep(lots []*lotBody) {
	k.mu.Lock()
	defer k.mu.Unlock()
	for _, b := range lots {
		if k.of == nil || len(k.of) >= maxKnownLots {
			k.of = map[string]*lotBody{} // those still in use are soon here again
		}
		k.of[b.text] = b
	}
}
