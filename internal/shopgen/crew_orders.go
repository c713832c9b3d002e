package shopgen

import (
	"errors"
	"fmt"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// firstOrder is the number of the first order that comes in once a demo runs.
const firstOrder = 4201

// wishes are the orders that come in, one after the other, over and over: spare
// parts of enclosures that stand on roofs already.
var wishes = []wish{
	{customer: "Stellick Schools Trust", site: "SITE-LARKFIELD", reference: "SST spare walls", lines: []core.Component{of("WP-2400", 2), of("EW-1200", 1)}},
	{customer: "Quillhaven Roofing", reference: "QR brackets", lines: []core.Component{of("BK-90", 24), of("SM-2", 30)}},
	{customer: "Tamsford Printworks", site: "SITE-LARKFIELD", reference: "TP louvres", lines: []core.Component{of("LB-760", 2)}},
	{customer: "Pellow Quay Bus Depot", site: "SITE-FARNESS", reference: "PQ doors", longHaul: true, lines: []core.Component{of("DL-L", 1), of("DL-R", 1), of("HP-80", 6)}},
	{customer: "Merrowdale Clinics", reference: "MC roof", lines: []core.Component{of("RT-1800", 2), of("CT-1800", 1), of("SC-COVER", 4)}},
	{customer: "Dunvale College", site: "SITE-FARNESS", reference: "DC frame", longHaul: true, lines: []core.Component{of("BF-1800", 1), of("LE-16", 8)}},
	{customer: "Ostrey Laboratories", site: "SITE-FARNESS", reference: "OL walls", longHaul: true, lines: []core.Component{of("WP-1800", 1), of("RT-2400", 1)}},
}

// orderIn brings the next order in, promised for a fortnight or three weeks on.
func (d *day) orderIn() error {
	no, err := d.crew.nextOrder(d)
	if err != nil {
		return err
	}
	w := wishes[(d.crew.next-firstOrder)%len(wishes)]
	days := 14 + d.rng.IntN(8)
	o := d.order(no, workday(core.DateOf(d.clock.Now().In(d.zone).AddDate(0, 0, days))), w)
	if err := d.enlist("P02", "order of the day", o); err != nil {
		return err
	}
	d.crew.next++
	return nil
}

// nextOrder finds the first number that no order has: by doubling, then halving
// the step, since they are given out in turn.
func (c *Crew) nextOrder(d *day) (string, error) {
	known := func(n int) (bool, error) {
		_, err := d.svc.Store.LoadOrder(d.ctx, orderNo(n))
		if errors.Is(err, app.ErrNotFound) {
			return false, nil
		}
		return err == nil, err
	}
	step := 1
	for {
		there, err := known(c.next + step - 1)
		if err != nil {
			return "", err
		}
		if !there {
			break
		}
		step *= 2
	}
	low, high := c.next+step/2, c.next+step-1 // low-1 is known, or nothing is; high is free
	for low < high {
		mid := (low + high) / 2
		there, err := known(mid)
		if err != nil {
			return "", err
		}
		if there {
			low = mid + 1
		} else {
			high = mid
		}
	}
	c.next = low
	return orderNo(low), nil
}

func orderNo(n int) string { return fmt.Sprintf("O-%d", n) }

// renew lays in a batch of something that has gone out of date.
func (d *day) renew(n noBatch) error {
	now := d.clock.Now().In(d.zone)
	b := core.Batch{Kind: n.kind, Colour: n.colour, Batch: fmt.Sprintf("NB-%s-%s%s", now.Format("0102"), n.kind, n.colour),
		Expires: core.DateOf(now.AddDate(0, 6, 0))}
	if _, err := d.svc.ImportBundle(d.ctx, "P02", "goods of the day", intake.Bundle{Batches: []core.Batch{b}}); err != nil {
		return fmt.Errorf("lay in %s: %w", n.kind, err)
	}
	return nil
}
