package core

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
)

// eventKinds lists every kind with its current version. A kind whose meaning
// changes gets the next version and an upcaster from the one before.
var eventKinds = map[EventKind]int{
	EvGoodsReceived: 1, EvSeparated: 1, EvTakenIn: 1, EvSlotted: 1, EvHandedOver: 1, EvBegun: 1, EvSigned: 2, EvClaimed: 1,
	EvDivided: 1, EvFused: 1, EvGathered: 1, EvReturned: 1, EvAssembled: 1, EvProblemReported: 1, EvDisposed: 1, EvHeld: 1,
	EvReleased: 1, EvSettled: 1, EvRecounted: 1, EvOwnerChanged: 1, EvPrinted: 1, EvLoaded: 1, EvShipped: 2, EvTakenBack: 1, EvReceived: 2,
	EvCorrected: 1, EvImported: 1, EvJoinedLate: 1, EvSentBack: 1,
	EvUnitBegun: 1, EvTakenApart: 1, EvTurnedUp: 1, EvSnagReported: 1, EvSnagPutRight: 1, EvSnagClosed: 1, EvWeighed: 1,
}

// EventKinds lists every kind of event, in order.
func EventKinds() []EventKind {
	out := make([]EventKind, 0, len(eventKinds))
	for k := range eventKinds {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// EventVersion is the version in which events of a kind are recorded now; 0 for
// a kind nobody knows.
func EventVersion(k EventKind) int { return eventKinds[k] }

// ReadEvent reads a stored event of a kind and version. An unknown kind, a
// version from the future, and anything in the payload that this version does
// not know are errors: a rebuild stops there rather than guess.
func ReadEvent(kind EventKind, v int, payload []byte) (Event, error) {
	var e Event
	now, known := eventKinds[kind]
	if !known {
		return e, fmt.Errorf("an event of the unknown kind %q: this program is older than the record", kind)
	}
	if v < 1 || v > now {
		return e, fmt.Errorf("an event of kind %s, version %d: this program knows up to version %d", kind, v, now)
	}
	for at := v; at < now; at++ {
		up, ok := upcasters[kind][at]
		if !ok {
			return e, fmt.Errorf("no way from version %d of %s to version %d", at, kind, at+1)
		}
		next, err := up(payload)
		if err != nil {
			return e, fmt.Errorf("read an event of kind %s, version %d: %w", kind, at, err)
		}
		payload = next
	}
	d := json.NewDecoder(bytes.NewReader(payload))
	d.DisallowUnknownFields()
	if err := d.Decode(&e); err != nil {
		return e, fmt.Errorf("read an event of kind %s, version %d: %w", kind, v, err)
	}
	if e.Kind != kind {
		return e, fmt.Errorf("event %s says it is %s, and its row says %s", e.ID, e.Kind, kind)
	}
	e.V = now
	for i, f := range e.Effects {
		if f == (Effect{}) {
			return e, fmt.Errorf("event %s, effect %d changes nothing", e.ID, i+1)
		}
	}
	return e, nil
}
