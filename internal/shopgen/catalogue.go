package shopgen

import (
	"fmt"
	"slices"
	"time"

	"tagalong/internal/core"
	"tagalong/internal/intake"
	"tagalong/testdata/samples"
)

// The shop's own row.
const (
	Name    = "Corrie Sheetworks"
	Zone    = "Europe/London"
	Address = "HTTPS://CORRIE.EXAMPLE" // of printed codes; the server ignores the host
)

// Notice is what every page and print of the demo says.
const Notice = "Invented: no such shop, people, orders or goods."

// sampleDay is the day the sample files are written for.
var sampleDay = time.Date(2026, time.November, 25, 0, 0, 0, 0, time.UTC)

// stock is how many sheets and bars of each material the small shop has: enough
// for the first orders. Of bought goods it has every delivery.
var stock = map[core.ItemID]int{"SH-5005-3": 14, "SH-5083-4": 2, "SH-304-2": 2, "BAR-SQ50": 4, "BAR-L40": 5}

// catalogue reads the sample files as if today were their day.
func catalogue(book *core.Book, today time.Time) (intake.Bundle, error) {
	b, faults := intake.Read(samples.Files, intake.Known{Book: book})
	if len(faults) > 0 {
		return b, fmt.Errorf("the sample files: %w", faults[0])
	}
	trim(&b)
	days := int(time.Date(today.Year(), today.Month(), today.Day(), 0, 0, 0, 0, time.UTC).Sub(sampleDay).Hours() / 24)
	shift(&b, days)
	return b, nil
}

// trim keeps a small shop's stock.
func trim(b *intake.Bundle) {
	left := map[core.ItemID]int{}
	for item, n := range stock {
		left[item] = n
	}
	b.Sheets = slices.DeleteFunc(b.Sheets, func(s intake.Sheet) bool {
		left[s.Material.Item]--
		return left[s.Material.Item] < 0
	})
}

// shift moves every date by days.
func shift(b *intake.Bundle, days int) {
	for i := range b.Orders {
		b.Orders[i].Promised = workday(moved(b.Orders[i].Promised, days))
	}
	for i := range b.People {
		for j := range b.People[i].Qualifications {
			q := &b.People[i].Qualifications[j]
			q.ValidTo, q.ConfirmBy = moved(q.ValidTo, days), moved(q.ConfirmBy, days)
		}
	}
	for i := range b.Instruments {
		b.Instruments[i].DueBy = moved(b.Instruments[i].DueBy, days)
	}
	for i := range b.Batches {
		b.Batches[i].Expires = moved(b.Batches[i].Expires, days)
	}
	for i := range b.Bought {
		b.Bought[i].Expires = moved(b.Bought[i].Expires, days)
	}
}

func moved(d core.Date, days int) core.Date {
	if d == "" {
		return ""
	}
	return core.DateOf(d.Time(time.UTC).AddDate(0, 0, days))
}

// workday is the day itself, or the Monday after: nobody promises a weekend.
func workday(d core.Date) core.Date {
	switch d.Time(time.UTC).Weekday() {
	case time.Saturday:
		return moved(d, 2)
	case time.Sunday:
		return moved(d, 1)
	}
	return d
}
