package core

import (
	"strconv"
	"time"
)

// paperDays is how long a pen's word on a traveller may wait to be entered.
// Common practice, no source: a month's travellers are still at hand.
const paperDays = 31

// onPaper judges a sign-off that was made with a pen while the tablets were
// out: its time is the paper's, and two people sign, who did the work and one
// who compared the paper.
func (d *deciding) onPaper(b SignOff) *Refusal {
	if b.OnPaper.IsZero() {
		return nil
	}
	if age := d.w.Now.Sub(b.OnPaper); age < 0 || age > paperDays*24*time.Hour {
		return refuse("paper-time", "days", strconv.Itoa(paperDays))
	}
	if len(d.signers()) < 2 {
		return refuse("paper-needs-two").absolute()
	}
	d.ev.OnPaper = true
	return nil
}
