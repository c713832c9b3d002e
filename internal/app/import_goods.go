package app

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// bidden are the commands an import stands for: one for orders and nests, one
// for each sheet and delivery. Nobody signs them at a station: an import runs
// on the server's own machine, or was let in before.
func (s *Service) bidden(by core.PersonID, source string, news intake.Bundle, at core.StationID) ([]Bidden, error) {
	now := s.Clock().UTC().Truncate(time.Microsecond)
	var out []Bidden
	var failed error
	bid := func(id core.CommandID, at core.StationID, body core.Body) {
		c := core.Command{ID: id, Happened: now, Station: at, Body: body}
		if by != "" {
			c.Signers = []core.Signature{{Person: by, Meaning: core.MeantReceived, At: now}}
		}
		text, err := json.Marshal(body)
		if err != nil && failed == nil {
			failed = fmt.Errorf("import: %w", err)
		}
		out = append(out, Bidden{Command: c, SHA: sha256.Sum256(text)})
	}
	if len(news.Orders)+len(news.Nests) > 0 {
		c := core.Enlist{Orders: news.Orders, Nests: news.Nests, Source: source}
		bid("", "", c)
		// Orders may come to be as they were once: the time tells the commands apart.
		enlist := &out[len(out)-1]
		enlist.ID = nameID(fmt.Sprintf("enlist\n%x\n%s", enlist.SHA, now.Format(time.RFC3339Nano)))
	}
	for _, x := range news.Sheets {
		bid(sheetID(x.No), at, core.ReceiveGoods{Item: x.Material, Qty: 1, Heat: x.Heat, Label: x.No, Slot: x.Slot, Identified: true, Before: true,
			Note: noteOf(x.Certificate)})
	}
	for _, x := range news.Bought {
		// What a heat number is to a sheet, its maker's batch is to bought goods.
		bid(deliveryID(x.No), at, core.ReceiveGoods{Item: x.Item, Qty: x.Qty, Heat: x.Batch, Label: x.No, Slot: x.Slot, Identified: true, Before: true, Expires: x.Expires,
			Note: noteOf(x.Certificate)})
	}
	return out, failed
}

// goodsIn is the first station that takes goods in, once news are stored.
func goodsIn(b *core.Book, news []core.Station) core.StationID {
	all := map[core.StationID]core.Station{}
	for id, st := range b.Stations {
		all[id] = st
	}
	for _, st := range news {
		all[st.ID] = st
	}
	var first core.Station
	for _, st := range all {
		if st.Does("goods-in") && (first.ID == "" || st.Order < first.Order || st.Order == first.Order && st.ID < first.ID) {
			first = st
		}
	}
	return first.ID
}

// The number a sheet or delivery has in the file makes its command's id, so that
// it is received once however often it is read.
func sheetID(no string) core.CommandID    { return nameID("sheet\n" + no) }
func deliveryID(no string) core.CommandID { return nameID("delivery\n" + no) }

// nameID is a UUID made from a name, of version 8 (RFC 9562, 5.8: custom).
func nameID(name string) core.CommandID {
	h := sha256.Sum256([]byte("tagalong import\n" + name))
	h[6] = h[6]&0x0f | 0x80
	h[8] = h[8]&0x3f | 0x80
	return core.CommandID(fmt.Sprintf("%x-%x-%x-%x-%x", h[0:4], h[4:6], h[6:8], h[8:10], h[10:16]))
}

// noteOf is what is written beside goods; notedOf reads the certificate again.
func noteOf(certificate string) string {
	if certificate == "" {
		return ""
	}
	return certificateIs + certificate
}

func notedOf(note string) string {
	certificate, _ := strings.CutPrefix(note, certificateIs)
	return certificate
}

const certificateIs = "certificate "

// goodsOf reads the line of sheets.csv or bought.csv that a receipt came of; nil
// of both where it came of none, but was taken in at a station.
func goodsOf(e Recorded) (*intake.Sheet, *intake.Bought) {
	var row core.PalletRow
	var lot core.Lot
	for _, f := range e.Effects {
		switch {
		case f.PalletPut != nil:
			row = *f.PalletPut // the last is whole
		case f.LotBorn != nil:
			lot = *f.LotBorn
		}
	}
	heat := ""
	if len(lot.Heats) > 0 {
		heat = lot.Heats[0]
	}
	certificate := notedOf(e.Note)
	switch e.Command {
	case sheetID(row.Label):
		return &intake.Sheet{No: row.Label, Material: lot.Item, Heat: heat, Slot: row.Slot, Certificate: certificate}, nil
	case deliveryID(row.Label):
		b := intake.Bought{No: row.Label, Item: lot.Item, Batch: heat, Expires: lot.Expires, Slot: row.Slot, Certificate: certificate}
		for _, c := range e.Lots {
			b.Qty += c.Good
		}
		return nil, &b
	}
	return nil, nil
}
