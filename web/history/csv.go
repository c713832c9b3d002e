package history

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"tagalong/internal/app"
	"tagalong/web/endpoint"
)

var columns = []string{
	"seq", "happened", "recorded", "kind", "what", "station", "stage", "step", "persons", "names", "meanings", "tablet",
	"pallets", "lots", "orders", "readings", "instruments", "inputs", "waived", "note", "print", "print_seen", "event", "corrects", "corrected_by", "photos",
}

// writeCSV writes one line for each event and each refusal.
func writeCSV(w http.ResponseWriter, h app.HistoryPage) error {
	rows := [][]string{columns}
	for _, e := range h.Events {
		rows = append(rows, eventRow(e))
	}
	for _, r := range h.Refusals {
		rows = append(rows, refusalRow(r))
	}
	return endpoint.CSV(w, fileName(h), rows)
}

func fileName(h app.HistoryPage) string {
	name := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '-' {
			return r
		}
		return -1
	}, strings.ToLower(strings.ReplaceAll(h.Title, " ", "-")))
	return "history-" + name + ".csv"
}

func eventRow(e app.HistoryEvent) []string {
	var persons, names, meanings, tablets, seen []string
	for _, s := range e.Signed {
		persons, names, meanings = append(persons, string(s.Person)), append(names, s.Name), append(meanings, string(s.Meaning))
		if s.Tablet != "" {
			tablets = append(tablets, string(s.Tablet))
		}
		if s.PrintSeen > 0 {
			seen = append(seen, strconv.Itoa(s.PrintSeen))
		}
	}
	var pallets, lots, orders, readings, gauges, inputs, waived []string
	for _, p := range e.Pallets {
		pallets = append(pallets, string(p))
	}
	for _, l := range e.Lots {
		lots = append(lots, fmt.Sprintf("%s %s rev %s: %d good, %d bad, %d not done", l.Lot, l.Item, l.Rev, l.Good, l.Bad, l.NotDone))
		if l.Order != "" {
			orders = append(orders, l.Order+"/"+strconv.Itoa(l.Line))
		}
	}
	for _, r := range e.Readings {
		readings = append(readings, readingText(r))
		if r.Instrument != "" {
			gauges = append(gauges, r.Instrument)
		}
	}
	for _, b := range e.Inputs {
		inputs = append(inputs, b.Kind+" "+b.Batch)
	}
	for _, w := range e.Waived {
		waived = append(waived, w.Code+": "+w.Reason)
	}
	all := func(s []string) string { return strings.Join(s, "; ") }
	return []string{
		strconv.FormatInt(e.Seq, 10), stamp(e.Happened), stamp(e.Recorded), string(e.Kind), e.What, string(e.Station), string(e.Stage),
		number(e.Step), all(persons), all(names), all(meanings), all(tablets), all(pallets), all(lots), all(orders), all(readings),
		all(gauges), all(inputs), all(waived), e.Note, number(e.Print), all(seen), string(e.Event), string(e.Corrects), string(e.CorrectedBy), all(e.Photos),
	}
}

func refusalRow(r app.HistoryRefusal) []string {
	row := make([]string, len(columns))
	row[1], row[3], row[4], row[5] = stamp(r.At), "refused", r.What, string(r.Station)
	row[8], row[9], row[19] = string(r.Person), r.Name, r.Kind+": "+r.Code
	return row
}

func stamp(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.RFC3339)
}

func number(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}
