package core

import "slices"

// What a tablet signs while out of touch is a claim, not a permission: it is
// judged when it arrives. If the rules refuse it the work was done all the
// same, so the lot is held with a nonconformity, the facts the work would have
// given are unsure, and somebody has to deal with it.

// notClaims are refusals of a command that says nothing sound about the work:
// they stay refusals, also for a tablet that was out of touch.
var notClaims = []string{
	"lot-not-here", "lot-twice", "numbers-dont-sum", "why-missing", "check-missing", "check-unknown", "packaging-missing",
	"step-done", "stage-not-on-route", "sample-whole", "sample-short", "sample-bad", "sample-none", "signature-missing", "person-left",
}

// outOfTouch refuses what needs the server at the moment it is done.
func (d *deciding) outOfTouch(stage Stage) *Refusal {
	if d.c.Device.Offline && stage.ServerOnly {
		return refuse("needs-server", "stage", stage.Title).absolute()
	}
	return nil
}

func (d *deciding) claimable(r *Refusal) bool {
	return d.c.Device.Offline && !r.Ask && !slices.Contains(notClaims, r.Code)
}

// claim records work that was done and may not stand.
func (d *deciding) claim(w lotStep, stage Stage, code string) {
	l := d.s.Lots[w.lot.ID]
	rev, t := d.w.Book.Items[l.Item], traits(d.w.Book, l, w.step)
	d.counted(l, 0, l.Qty, 0)
	for _, c := range stage.Gives {
		if !c.counts(t) {
			continue
		}
		for _, f := range c.facts(rev, l, w.step, d.at) {
			if l.Facts.At(f, d.at) == No {
				d.emit(Effect{Given: &FactGiven{Lot: l.ID, Fact: f, Value: Unsure, Was: standingOf(l, f), Note: d.coatNote(rev, w.step, f)}})
			}
		}
	}
	for _, b := range d.inputs {
		d.emit(Effect{BatchUsed: &BatchUsed{l.ID, b.Batch}})
	}
	if stage.Abrades {
		d.touch(rev.Metal)
	}
	if stage.Work != "" {
		for _, p := range d.signers() {
			d.emit(Effect{MadeBy: &MadeBy{l.ID, stage.Work, p}})
		}
	}
	d.found(l, stage, "done while out of touch, against the rule "+code)
	d.touchPalletOf(l)
}
