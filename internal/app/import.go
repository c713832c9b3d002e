package app

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// Imported says what an import brought, by kind of row in the order of the
// files, and what is worth knowing of it.
type Imported struct {
	Rows  []ImportCount
	Notes []intake.Note
}

// ImportCount counts one kind of row of an import.
type ImportCount struct {
	What    string // "items"
	Added   int    // not known before
	Changed int    // known in another form
	Same    int    // known in just this form: nothing was stored
}

// Added counts what is new or changed; nought means the shop knew it all.
func (i Imported) Added() int {
	n := 0
	for _, c := range i.Rows {
		n += c.Added + c.Changed
	}
	return n
}

// Import reads a folder of CSV files whole and brings into the shop what it
// does not have yet. Where a line is wrong it returns every fault, and nothing
// was stored. The same folder again stores nothing.
//
// Catalogue rows are stored first, then orders and nests by one command, then
// each sheet and delivery by one of its own: a store has no transaction over
// all of them. Should it break off between two, the same import again adds the
// rest and doubles nothing. Source is where the files came from, for the
// record; by is who imports, empty on the command line of the server's machine.
func (s *Service) Import(ctx context.Context, by core.PersonID, source string, files fs.FS) (Imported, []intake.Fault, error) {
	k, err := s.importKnown(ctx)
	if err != nil {
		return Imported{}, nil, err
	}
	bundle, faults := intake.Read(files, k.known())
	switch {
	case k.err != nil:
		return Imported{}, nil, k.err
	case len(faults) > 0:
		return Imported{}, faults, nil
	}
	out, err := s.bring(ctx, by, source, bundle, k)
	return out, nil, err
}

// ImportBundle brings in what was read before; see [Service.Import].
func (s *Service) ImportBundle(ctx context.Context, by core.PersonID, source string, b intake.Bundle) (Imported, error) {
	k, err := s.importKnown(ctx)
	if err != nil {
		return Imported{}, err
	}
	return s.bring(ctx, by, source, b, k)
}

func (s *Service) bring(ctx context.Context, by core.PersonID, source string, b intake.Bundle, k *importKnown) (Imported, error) {
	news := b.News(k.known())
	news.Sheets, news.Bought = k.newSheets(b.Sheets), k.newBought(b.Bought)
	if k.err != nil {
		return Imported{}, k.err
	}
	rows := BookRows{Routes: news.Routes, Items: news.Items, Stations: news.Stations, People: news.People,
		Instruments: news.Instruments, Batches: news.Batches}
	if _, _, err := s.Store.SaveBook(ctx, by, source, rows); err != nil {
		return Imported{}, fmt.Errorf("store the catalogue: %w", err)
	}
	if len(news.Orders)+len(news.Nests) > 0 {
		c := core.Enlist{Orders: news.Orders, Nests: news.Nests, Source: source}
		if err := s.importCommand(ctx, by, importID("enlist", c), "", c); err != nil {
			return Imported{}, err
		}
	}
	if err := s.receive(ctx, by, news); err != nil {
		return Imported{}, err
	}
	return k.counts(b, news), nil
}

// receive takes in the sheets and deliveries. The number each has in the file
// makes its command's id, so that it is received once however often it is read.
func (s *Service) receive(ctx context.Context, by core.PersonID, news intake.Bundle) error {
	if len(news.Sheets)+len(news.Bought) == 0 {
		return nil
	}
	book, err := s.Store.Book(ctx)
	if err != nil {
		return fmt.Errorf("read the catalogue: %w", err)
	}
	at := goodsIn(book)
	for _, x := range news.Sheets {
		c := core.ReceiveGoods{Item: x.Material, Qty: 1, Heat: x.Heat, Label: x.No, Slot: x.Slot, Identified: true, Before: true,
			Note: noteOf("certificate", x.Certificate)}
		if err := s.importCommand(ctx, by, sheetID(x.No), at, c); err != nil {
			return fmt.Errorf("sheet %s: %w", x.No, err)
		}
	}
	for _, x := range news.Bought {
		// What a heat number is to a sheet, its maker's batch is to bought goods.
		c := core.ReceiveGoods{Item: x.Item, Qty: x.Qty, Heat: x.Batch, Label: x.No, Slot: x.Slot, Identified: true, Before: true,
			Expires: x.Expires, Note: noteOf("certificate", x.Certificate)}
		if err := s.importCommand(ctx, by, deliveryID(x.No), at, c); err != nil {
			return fmt.Errorf("delivery %s: %w", x.No, err)
		}
	}
	return nil
}

// noteOf joins what is known of goods: pairs of a word and a text.
func noteOf(pairs ...string) string {
	var out []string
	for i := 0; i+1 < len(pairs); i += 2 {
		if pairs[i+1] != "" {
			out = append(out, pairs[i]+" "+pairs[i+1])
		}
	}
	return strings.Join(out, ", ")
}

// goodsIn is the first station that takes goods in.
func goodsIn(b *core.Book) core.StationID {
	var first core.Station
	for _, st := range b.Stations {
		if st.Does("goods-in") && (first.ID == "" || st.Order < first.Order || st.Order == first.Order && st.ID < first.ID) {
			first = st
		}
	}
	return first.ID
}

// importCommand carries out a command that nobody signs: an import runs on the
// server's own machine, or was let in before.
func (s *Service) importCommand(ctx context.Context, by core.PersonID, id core.CommandID, at core.StationID, body core.Body) error {
	c := core.Command{ID: id, Happened: s.Clock().UTC(), Station: at, Body: body}
	if by != "" {
		c.Signers = []core.Signature{{Person: by, Meaning: core.MeantReceived, At: c.Happened}}
	}
	text, err := json.Marshal(body)
	if err != nil {
		return fmt.Errorf("import: %w", err)
	}
	answer, err := s.Store.Execute(ctx, c, sha256.Sum256(text), func(w core.World) core.Outcome { return s.Decide(w, c) })
	switch {
	case errors.Is(err, ErrOtherBody):
		return Refuse("id-used")
	case err != nil:
		return fmt.Errorf("import: %w", err)
	case answer.Refusal != nil:
		return &Refused{Refusal: *answer.Refusal}
	}
	return nil
}

// importID derives a command's id from what it brings, so that an import that
// broke off and is begun again does not do the same twice.
func importID(kind string, body any) core.CommandID {
	text, err := json.Marshal(body)
	if err != nil { // every body is sent as JSON elsewhere
		panic("app: " + kind + ": " + err.Error())
	}
	return nameID(kind + "\n" + string(text))
}

func sheetID(no string) core.CommandID    { return nameID("sheet\n" + no) }
func deliveryID(no string) core.CommandID { return nameID("delivery\n" + no) }

// nameID is a UUID made from a name, of version 8 (RFC 9562, 5.8: custom).
func nameID(name string) core.CommandID {
	h := sha256.Sum256([]byte("tagalong import\n" + name))
	h[6] = h[6]&0x0f | 0x80
	h[8] = h[8]&0x3f | 0x80
	return core.CommandID(fmt.Sprintf("%x-%x-%x-%x-%x", h[0:4], h[4:6], h[6:8], h[8:10], h[10:16]))
}

// firstLot is the lot a command made first.
func firstLot(id core.CommandID) core.LotID { return core.LotID(string(id) + "/1") }
