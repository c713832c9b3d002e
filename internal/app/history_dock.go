package app

import (
	"slices"
	"strings"

	"tagalong/internal/core"
)

// sentOff is the consignment as the event that sent it off left it.
func sentOff(e core.Event) core.Consignment {
	for _, f := range slices.Backward(e.Effects) {
		if f.ConsignmentPut != nil && string(f.ConsignmentPut.Code) == e.Ref {
			return *f.ConsignmentPut
		}
	}
	return core.Consignment{}
}

// sentBy says how a consignment was handed over, what of the shop's own went
// with it, and by whose leave it went short.
func (e event) sentBy() string {
	c, text := sentOff(e.Event), ""
	if c.HandedTo == core.SignedOnPaper {
		text += "; the driver signed on paper"
	}
	if len(c.Out) > 0 {
		text += "; to come back: " + core.CarriersText(c.Out)
	}
	for _, x := range c.Consents {
		text += "; " + ConsentText(x)
	}
	return text
}

// ConsentText says by whose leave an order left short.
func ConsentText(c core.Consent) string {
	text := "part shipment of order " + c.Order + ", rest to follow (" + c.Missing + ")"
	if c.Standing {
		return text + ", as agreed with the order"
	}
	return text + ", agreed by " + strings.TrimSpace(c.Who) + ", " + strings.TrimSpace(c.Means) + ": " + strings.TrimSpace(c.Reason)
}

// cameBack says which of the shop's carriers an event counted in, or gave up.
func (e event) cameBack() string {
	what := core.CarriersText(e.Carriers) + " that left with consignment " + spaced(e.Ref)
	if e.GivenUp {
		return "Gave up " + what + e.note()
	}
	return "Took back " + what + e.note()
}
