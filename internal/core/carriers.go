package core

import (
	"slices"
	"strconv"
	"strings"
)

// Proof is how a driver signed for a load. The record never says by name who it
// was: that is in the drawn picture, or on the paper.
type Proof string

const (
	SignedOnPaper Proof = "paper" // the printed packing list
	SignedOnGlass Proof = "glass" // the dock's tablet; the picture is the command's one photo
)

// handedOver refuses a load that nobody on the vehicle signed for, and carriers
// that don't count. It returns the picture of a signature drawn on glass.
func (d *deciding) handedOver(b Ship) (signature string, r *Refusal) {
	if b.HandedTo == SignedOnGlass && len(b.Photos) == 1 {
		signature, _, _ = ParsePhoto(b.Photos[0])
	}
	if b.HandedTo != SignedOnPaper && signature == "" {
		return "", refuse("driver-not-signed", "vehicle", b.Vehicle)
	}
	return signature, counts(b.Carriers)
}

// ReturnKind is a sort of carrier that is the shop's own and comes back. They
// are counted, not named: the code printed on a load ends with the load.
type ReturnKind string

const (
	ReturnStillage ReturnKind = "stillage"
	ReturnPallet   ReturnKind = "pallet"
	ReturnCrate    ReturnKind = "crate"
)

// ReturnKinds lists them in the order forms show them.
var ReturnKinds = []ReturnKind{ReturnStillage, ReturnPallet, ReturnCrate}

// CarrierCount is so many carriers of a kind.
type CarrierCount struct {
	Kind  ReturnKind `json:"kind"`
	Count int        `json:"count"`
}

// CarriersText is what people say of counts: "2 stillages, 1 pallet".
func CarriersText(cs []CarrierCount) string {
	var out []string
	for _, c := range cs {
		s := strconv.Itoa(c.Count) + " " + string(c.Kind)
		if c.Count != 1 {
			s += "s"
		}
		out = append(out, s)
	}
	return strings.Join(out, ", ")
}

// Owed is what of a consignment's carriers is still to come back.
func (c Consignment) Owed() []CarrierCount {
	var out []CarrierCount
	for _, k := range ReturnKinds {
		if n := countOf(c.Out, k) - countOf(c.Back, k) - countOf(c.Lost, k); n > 0 {
			out = append(out, CarrierCount{k, n})
		}
	}
	return out
}

// carriersBack counts carriers that came back against those that left.
func (d *deciding) carriersBack(b TakeBack) *Refusal {
	c, ok := d.s.Consignments[b.Consignment]
	if !ok {
		return refuse("consignment-unknown", "consignment", string(b.Consignment))
	}
	if c.Gone.IsZero() {
		return refuse("not-shipped", "face", "")
	}
	if r := counts(b.Carriers); r != nil {
		return r
	}
	came := some(b.Carriers)
	if len(came) == 0 {
		return refuse("carriers-none", "consignment", string(c.Code))
	}
	owed := c.Owed()
	for _, x := range came {
		if x.Count > countOf(owed, x.Kind) {
			out := CarriersText(owed)
			if out == "" {
				out = "nothing"
			}
			return refuse("carriers-too-many", "consignment", string(c.Code), "came", CarriersText(came), "out", out)
		}
	}
	if b.Lost && strings.TrimSpace(b.Note) == "" {
		return refuse("reason-missing")
	}
	d.ev.Kind, d.ev.Ref, d.ev.Note = EvTakenBack, string(c.Code), strings.TrimSpace(b.Note)
	if b.Lost {
		c.Lost = sum(c.Lost, came)
	} else {
		c.Back = sum(c.Back, came)
	}
	d.ev.Pallets, d.ev.Carriers, d.ev.GivenUp = slices.Clone(c.Pallets), came, b.Lost
	d.emit(Effect{ConsignmentPut: &c})
	return nil
}

// counts refuses kinds nobody knows and numbers below nothing.
func counts(cs []CarrierCount) *Refusal {
	for _, c := range cs {
		if c.Count < 0 || c.Count > 999 || !slices.Contains(ReturnKinds, c.Kind) {
			return refuse("carriers-wrong", "kind", string(c.Kind), "count", strconv.Itoa(c.Count))
		}
	}
	return nil
}

// some adds counts up by kind and leaves out what is none.
func some(cs []CarrierCount) []CarrierCount { return sum(nil, cs) }

func sum(a, b []CarrierCount) []CarrierCount {
	var out []CarrierCount
	for _, k := range ReturnKinds {
		if n := countOf(a, k) + countOf(b, k); n > 0 {
			out = append(out, CarrierCount{k, n})
		}
	}
	return out
}

func countOf(cs []CarrierCount, k ReturnKind) int {
	n := 0
	for _, c := range cs {
		if c.Kind == k {
			n += c.Count
		}
	}
	return n
}
