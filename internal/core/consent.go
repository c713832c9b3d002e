package core

import (
	"slices"
	"strings"
)

// Consent is a customer's leave to send an order short, the rest to follow.
type Consent struct {
	Order   string `json:"order"`
	Missing string `json:"missing,omitempty"` // what did not go along; written by the decision
	// Who agreed, as a function or a reference: the record can't be blanked, so it
	// keeps no person's name.
	Who    string `json:"who,omitempty"`
	Means  string `json:"means,omitempty"` // by what: "e-mail of 24 November"
	Reason string `json:"reason,omitempty"`
	// Standing: the order itself says its customer takes part shipments.
	Standing bool `json:"standing,omitempty"`
}

func (c Consent) given() bool {
	return strings.TrimSpace(c.Who) != "" && strings.TrimSpace(c.Means) != "" && strings.TrimSpace(c.Reason) != ""
}

// complete asks before a consignment leaves an order short, and takes yes only
// with a consent for that order: who agreed, by what means, and why. It returns
// the consents the load leaves by.
func (d *deciding) complete(c Consignment, orders map[string]bool, given []Consent) ([]Consent, *Refusal) {
	var out []Consent
	var short, without []string
	for _, no := range sortedKeys(orders) {
		o, ok := d.s.Orders[no]
		if !ok {
			continue
		}
		missing := d.unshipped(o, c)
		if missing == "" {
			continue
		}
		consent := Consent{Order: no, Missing: missing, Standing: o.Consent}
		if i := slices.IndexFunc(given, func(x Consent) bool { return x.Order == no && x.given() }); i >= 0 {
			consent.Who, consent.Means, consent.Reason, consent.Standing = given[i].Who, given[i].Means, given[i].Reason, false
		}
		if !o.Consent {
			short = append(short, "order "+no+" lacks "+missing)
			if !consent.given() {
				without = append(without, no)
			}
		}
		out = append(out, consent)
	}
	if len(short) > 0 {
		if r := d.stop(refuse("order-short", "missing", strings.Join(short, "; ")).ask()); r != nil {
			return nil, r
		}
	}
	if len(without) > 0 {
		return nil, refuse("consent-missing", "orders", strings.Join(without, ", "))
	}
	return out, nil
}
