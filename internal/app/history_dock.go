package app

import (
	"slices"
	"strconv"
	"strings"

	"tagalong/internal/core"
)

// sentOff is the consignment an event is of, as that event left it.
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
	if signed := DriverText(c.HandedTo); signed != "" {
		text += "; " + signed
	}
	if len(c.Out) > 0 {
		text += "; to come back: " + core.CarriersText(c.Out)
	}
	for _, x := range c.Consents {
		text += "; " + ConsentText(x)
	}
	return text
}

// DriverText says how the driver signed for a load; empty where that is not on
// record.
func DriverText(p core.Proof) string {
	switch p {
	case core.SignedOnPaper:
		return "the driver signed on paper"
	case core.SignedOnGlass:
		return "the driver signed on the dock’s tablet"
	}
	return ""
}

// ConsentText says by whose leave an order left short.
func ConsentText(c core.Consent) string {
	text := "part shipment of order " + c.Order + ", rest to follow (" + c.Missing + ")"
	if c.Standing {
		return text + ", as agreed with the order"
	}
	return text + ", agreed by " + strings.TrimSpace(c.Who) + ", " + strings.TrimSpace(c.Means) + ": " + strings.TrimSpace(c.Reason)
}

// weighed says what an event noted of the gross masses of a consignment's
// carriers.
func (e event) weighed() string {
	c, said := sentOff(e.Event), []string{}
	for _, p := range e.Pallets {
		said = append(said, spaced(string(p))+" "+strconv.FormatFloat(c.GrossOf(p), 'f', -1, 64)+" kg")
	}
	return "Weighed for consignment " + spaced(e.Ref) + ": " + strings.Join(said, ", ")
}

// cameBack says which of the shop's carriers an event counted in, or gave up.
func (e event) cameBack() string {
	what := core.CarriersText(e.Carriers) + " that left with consignment " + spaced(e.Ref)
	if e.GivenUp {
		return "Gave up " + what + e.note()
	}
	return "Took back " + what + e.note()
}
