package app

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"strings"
	"time"

	"tagalong/internal/core"
	"tagalong/internal/words"
)

// HistoryLimit is the most events, and the most refusals, one history page
// reads, the latest. Where there are more, it says so in More and MoreRefusals.
const HistoryLimit = 5000

// HistoryPage is who did what to a pallet, a lot or an order. Written as JSON,
// its fields and their names are a promise; see docs of `tagalong history`.
// Times are RFC 3339 in the shop's zone. Lists that are empty are left out,
// except Events and Refusals.
type HistoryPage struct {
	Of       HistoryOf        `json:"of"`
	Title    string           `json:"title"` // "Pallet P4K7 M2QX"
	AsOf     time.Time        `json:"asOf"`
	Lots     []HistoryLot     `json:"lots,omitempty"`  // what it is about: material, heats, batches
	Events   []HistoryEvent   `json:"events"`          // oldest first, in the order they were recorded
	Refusals []HistoryRefusal `json:"refusals"`        // oldest first
	More     bool             `json:"more,omitempty"`  // there are earlier events than these
	Loans    []Loan           `json:"loans,omitempty"` // of an order: lent or borrowed, and not paid back

	MoreRefusals bool `json:"moreRefusals,omitempty"` // there are earlier refusals than these
}

// HistoryOf says what was asked for: exactly one field is set.
type HistoryOf struct {
	Pallet core.PalletCode `json:"pallet,omitempty"`
	Lot    core.LotID      `json:"lot,omitempty"`
	Order  string          `json:"order,omitempty"`
}

// HistoryLot is a lot the history speaks of, as it is now.
type HistoryLot struct {
	Lot     core.LotID  `json:"lot"`
	Item    core.ItemID `json:"item"`
	Rev     string      `json:"rev"`
	Name    string      `json:"name"`
	Order   string      `json:"order,omitempty"` // empty: stock
	Line    int         `json:"line,omitempty"`
	Qty     int         `json:"qty"`
	Place   string      `json:"place"` // "pallet:P4K7M2QX", "scrap:…"
	Metal   core.Metal  `json:"metal,omitempty"`
	Grade   string      `json:"grade,omitempty"`
	Heats   []string    `json:"heats,omitempty"`
	Sheets  []string    `json:"sheets,omitempty"` // the shop's own sheet and bar numbers
	Batches []string    `json:"batches,omitempty"`
	Expires core.Date   `json:"expires,omitempty"` // the last day of what of it runs out first
	Nest    string      `json:"nest,omitempty"`
}

// HistoryEvent is one thing that happened.
type HistoryEvent struct {
	Seq      int64          `json:"seq"`
	Event    core.EventID   `json:"event"`
	Command  core.CommandID `json:"command"`
	Kind     core.EventKind `json:"kind"`
	Happened time.Time      `json:"happened"` // by the device
	Recorded time.Time      `json:"recorded"` // by the server
	Offline  bool           `json:"offline,omitempty"`
	What     string         `json:"what"` // one sentence

	Station     core.StationID `json:"station,omitempty"`
	StationName string         `json:"stationName,omitempty"`
	Stage       core.StageName `json:"stage,omitempty"`
	Step        int            `json:"step,omitempty"`
	Rules       int            `json:"rules,omitempty"` // version of the stage table it was judged by

	Signed   []HistorySignature `json:"signed,omitempty"`
	Pallets  []core.PalletCode  `json:"pallets,omitempty"`
	Lots     []HistoryCount     `json:"lots,omitempty"`
	Readings []HistoryReading   `json:"readings,omitempty"`
	Inputs   []core.Batch       `json:"inputs,omitempty"` // batches used: powder, filler, bath
	Waived   []core.Waiver      `json:"waived,omitempty"` // rules set aside under concession
	Note     string             `json:"note,omitempty"`
	Photos   []string           `json:"photos,omitempty"` // hashes: the pictures are at /photos/HASH
	Ref      string             `json:"ref,omitempty"`
	Print    int                `json:"print,omitempty"` // number of the print made

	Corrects    core.EventID `json:"corrects,omitempty"`    // the event this one takes back
	CorrectedBy core.EventID `json:"correctedBy,omitempty"` // the later event that took this one back
}

// HistorySignature is a person's word.
type HistorySignature struct {
	Person     core.PersonID `json:"person"`
	Name       string        `json:"name"` // as it is now; the id where the name was blanked
	Meaning    core.Meaning  `json:"meaning"`
	At         time.Time     `json:"at,omitzero"`
	Tablet     core.TabletID `json:"tablet,omitempty"`
	PrintSeen  int           `json:"printSeen,omitempty"`
	PrintState string        `json:"printState,omitempty"`
}

// HistoryCount is how the parts of a lot fared.
type HistoryCount struct {
	Lot     core.LotID  `json:"lot"`
	Item    core.ItemID `json:"item"`
	Rev     string      `json:"rev"`
	Name    string      `json:"name"`
	Order   string      `json:"order,omitempty"`
	Line    int         `json:"line,omitempty"`
	Good    int         `json:"good"`
	Bad     int         `json:"bad,omitempty"`
	NotDone int         `json:"notDone,omitempty"`
}

// HistoryReading is one characteristic as found, with the limits it was asked to meet.
type HistoryReading struct {
	Lot            core.LotID `json:"lot"`
	Characteristic string     `json:"characteristic"`
	Text           string     `json:"text,omitempty"`
	Met            bool       `json:"met"`
	Value          *float64   `json:"value,omitempty"`
	Unit           string     `json:"unit,omitempty"`
	Lower          *float64   `json:"lower,omitempty"`
	Upper          *float64   `json:"upper,omitempty"`
	Instrument     string     `json:"instrument,omitempty"`
}

// HistoryRefusal is a command that was refused.
type HistoryRefusal struct {
	At          time.Time      `json:"at"`
	Command     core.CommandID `json:"command"`
	Kind        string         `json:"kind"` // of the command
	Code        string         `json:"code"`
	What        string         `json:"what"` // its sentence
	Person      core.PersonID  `json:"person,omitempty"`
	Name        string         `json:"name,omitempty"`
	Station     core.StationID `json:"station,omitempty"`
	StationName string         `json:"stationName,omitempty"`
	Asked       bool           `json:"asked,omitempty"` // a question, not a no
	Absolute    bool           `json:"absolute,omitempty"`
}

// History tells what happened to a pallet, to a lot and those it came from, or
// to an order. The error is ErrNotFound where nothing is recorded of it.
func (s *Service) History(ctx context.Context, q HistoryQuery) (HistoryPage, error) {
	b, err := s.Book(ctx)
	if err != nil {
		return HistoryPage{}, err
	}
	if q.Limit <= 0 || q.Limit > HistoryLimit {
		q.Limit = HistoryLimit
	}
	limit := q.Limit
	q.Limit++ // one more tells whether there are more
	events, err := s.Store.History(ctx, q)
	if err != nil {
		return HistoryPage{}, err
	}
	more := len(events) > limit
	if more {
		events = events[len(events)-limit:]
	}
	if len(events) == 0 {
		return HistoryPage{}, ErrNotFound
	}
	p := HistoryPage{
		Of: HistoryOf{q.Pallet, q.Lot, q.Order}, Title: historyTitle(q), AsOf: inZone(s.Clock(), b),
		More: more, Refusals: []HistoryRefusal{},
	}
	for _, r := range events {
		p.Events = append(p.Events, historyEvent(b, r))
	}
	markCorrected(p.Events)
	if q.Order != "" {
		p.Loans = loansOf(b, q.Order, events)
	}
	if err := s.addLots(ctx, b, &p); err != nil {
		return p, err
	}
	return p, s.addRefusals(ctx, b, q, &p)
}

func historyTitle(q HistoryQuery) string {
	switch {
	case q.Order != "":
		return "Order " + q.Order
	case q.Lot != "":
		return "Lot " + string(q.Lot)
	}
	return "Pallet " + spaced(string(q.Pallet))
}

func historyEvent(b *core.Book, r Recorded) HistoryEvent {
	e := HistoryEvent{
		Seq: r.Seq, Event: r.ID, Command: r.Command, Kind: r.Kind, Happened: inZone(r.Happened, b), Recorded: inZone(r.Recorded, b),
		Offline: r.Device.Offline, What: happened(b, r.Event), Station: r.Station, StationName: stationName(b, r.Station),
		Stage: r.Stage, Step: r.Step, Rules: r.Rules, Pallets: r.Pallets, Inputs: r.Inputs, Waived: r.Waived,
		Note: r.Note, Photos: r.Photos, Ref: r.Ref, Corrects: r.Corrects, Print: printMade(r.Event),
	}
	for _, g := range r.Signed {
		e.Signed = append(e.Signed, HistorySignature{
			g.Person, PersonName(b, g.Person), g.Meaning, inZone(g.At, b), g.Tablet, g.PrintSeen, g.PrintState,
		})
	}
	for _, l := range r.Lots {
		e.Lots = append(e.Lots, HistoryCount{
			l.Lot, l.Item.Item, l.Item.Rev, itemName(b, l.Item), l.Owner.Order, l.Owner.Line, l.Good, l.Bad, l.NotDone,
		})
	}
	for _, c := range r.Checks {
		e.Readings = append(e.Readings, reading(b, r.Event, c))
	}
	return e
}

// PersonName is a person's name as it is now; the id of one who was blanked; of
// the bearer of a link, what the link was for.
func PersonName(b *core.Book, id core.PersonID) string {
	if n := b.People[id].Name; n != "" {
		return n
	}
	if n, ok := bearerName(id); ok {
		return n
	}
	return string(id)
}

// reading adds what the route asked to what was found. The route is that of the
// lot's item today, or a rework route; a characteristic they no longer have
// stands without limits.
func reading(b *core.Book, e core.Event, c core.Reading) HistoryReading {
	h := HistoryReading{Lot: c.Lot, Characteristic: c.Characteristic, Met: c.Met, Value: c.Value, Unit: c.Unit, Instrument: c.Instrument}
	i := slices.IndexFunc(e.Lots, func(l core.LotCount) bool { return l.Lot == c.Lot })
	if i < 0 {
		return h
	}
	if p, ok := core.PackingOf(c.Characteristic); ok {
		h.Text = p.Text
		return h
	}
	if want, ok := asked(b.Routes[b.Items[e.Lots[i].Item].Route], e, c.Characteristic); ok {
		h.Text, h.Lower, h.Upper = want.Text, want.Lower, want.Upper
		return h
	}
	newest := func(x, y core.RouteRef) int { return cmp.Or(y.Version-x.Version, strings.Compare(x.Name, y.Name)) }
	for _, ref := range slices.SortedFunc(maps.Keys(b.Routes), newest) {
		if want, ok := asked(b.Routes[ref], e, c.Characteristic); ok && b.Routes[ref].Rework {
			h.Text, h.Lower, h.Upper = want.Text, want.Lower, want.Upper
			return h
		}
	}
	return h
}

// asked is the characteristic a route asks for at the step an event did.
func asked(r core.Route, e core.Event, id string) (core.Characteristic, bool) {
	step, ok := r.Step(e.Step)
	if !ok || step.Stage != e.Stage {
		return core.Characteristic{}, false
	}
	i := slices.IndexFunc(step.Checks, func(want core.Characteristic) bool { return want.ID == id })
	if i < 0 {
		return core.Characteristic{}, false
	}
	return step.Checks[i], true
}

func markCorrected(events []HistoryEvent) {
	at := map[core.EventID]int{}
	for i, e := range events {
		at[e.Event] = i
		if j, ok := at[e.Corrects]; ok && e.Corrects != "" {
			events[j].CorrectedBy = e.Event
		}
	}
}

func (s *Service) addLots(ctx context.Context, b *core.Book, p *HistoryPage) error {
	var ids []core.LotID
	known := map[core.LotID]core.Lot{}
	for _, e := range p.Events {
		for _, l := range e.Lots {
			if _, twice := known[l.Lot]; !twice {
				ids, known[l.Lot] = append(ids, l.Lot), core.Lot{}
			}
		}
	}
	if len(ids) == 0 {
		return nil
	}
	lots, err := s.Store.Lots(ctx, ids)
	if err != nil {
		return err
	}
	for _, l := range lots {
		known[l.ID] = l
	}
	for _, id := range ids {
		l := known[id]
		if l.ID == "" || p.Of.Order != "" && l.Owner.Order != p.Of.Order {
			continue // not known, or only shared a sheet or a pallet with the order
		}
		rev := b.Items[l.Item]
		p.Lots = append(p.Lots, HistoryLot{
			Lot: l.ID, Item: l.Item.Item, Rev: l.Item.Rev, Name: itemName(b, l.Item), Order: l.Owner.Order, Line: l.Owner.Line,
			Qty: l.Qty, Place: l.Place.String(), Metal: rev.Metal, Grade: rev.Grade,
			Heats: l.Heats, Sheets: l.Sheets, Batches: l.Batches, Expires: l.Expires, Nest: l.Nest,
		})
	}
	return nil
}

// addRefusals adds the latest refusals about what was asked for, as many as
// events.
func (s *Service) addRefusals(ctx context.Context, b *core.Book, q HistoryQuery, p *HistoryPage) error {
	rows, err := s.Store.Refusals(ctx, RefusalQuery{Pallet: q.Pallet, Lot: q.Lot, Order: q.Order, Limit: q.Limit})
	if err != nil {
		return err
	}
	if p.MoreRefusals = len(rows) == q.Limit; p.MoreRefusals {
		rows = rows[:q.Limit-1] // one more was asked for
	}
	for _, r := range rows {
		p.Refusals = append(p.Refusals, historyRefusal(b, r))
	}
	slices.SortFunc(p.Refusals, func(x, y HistoryRefusal) int {
		if c := x.At.Compare(y.At); c != 0 {
			return c
		}
		return strings.Compare(string(x.Command), string(y.Command))
	})
	return nil
}

func historyRefusal(b *core.Book, r RefusalRow) HistoryRefusal {
	r.Refusal = named(b, r.Refusal)
	return HistoryRefusal{
		At: inZone(r.At, b), Command: r.Command, Kind: r.Kind, Code: r.Refusal.Code,
		What: upperFirst(words.Refusal(r.Refusal.Code, r.Refusal.Params).Title), Person: r.Person, Name: nameOrNone(b, r.Person),
		Station: r.Station, StationName: stationName(b, r.Station), Asked: r.Refusal.Ask, Absolute: r.Refusal.Absolute,
	}
}

func nameOrNone(b *core.Book, id core.PersonID) string {
	if id == "" {
		return ""
	}
	return PersonName(b, id)
}
