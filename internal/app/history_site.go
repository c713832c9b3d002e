package app

import "tagalong/internal/core"

// siteReached names the site an event's consignment went to.
func (e event) siteReached() string {
	for _, f := range e.Effects {
		if f.ConsignmentPut != nil {
			return e.site(f.ConsignmentPut.Site)
		}
	}
	return e.site("")
}

// siteLeft names the site that parts of an event went away from.
func (e event) siteLeft() string {
	for _, f := range e.Effects {
		if m := f.Moved; m != nil && m.From.Kind == core.AtSite {
			name := e.site(m.From.Ref)
			return name + comma(name)
		}
	}
	return e.site("")
}

// site is a site's name; a text that names no station stands for itself.
func (e event) site(ref string) string {
	switch st, ok := e.b.Stations[core.StationID(ref)]; {
	case ok:
		return placeName(st.Name)
	case ref != "":
		return ref
	}
	return "the site"
}

// afterReceipt says what was found at a site once a consignment was counted.
func (e event) afterReceipt() string {
	switch e.Kind {
	case core.EvSnagReported:
		about := ""
		if len(e.Lots) > 0 {
			about = " on " + e.parts()
		}
		return "Reported a snag" + about + " at " + e.siteOfSnag() + e.note()
	case core.EvSnagPutRight:
		return "Said that the snag “" + e.snag().What + "” at " + e.siteOfSnag() + " is put right" + e.note()
	case core.EvSnagClosed:
		return "Closed the snag “" + e.snag().What + "” at " + e.siteOfSnag() + e.note()
	}
	return "Found " + e.parts() + " at " + e.siteCameTo() + " that had been missing from consignment " + spaced(e.Ref) + e.note()
}

func (e event) snag() core.Snag {
	for _, f := range e.Effects {
		if f.SnagPut != nil {
			return *f.SnagPut
		}
	}
	return core.Snag{}
}

func (e event) siteOfSnag() string { return e.site(string(e.snag().Site)) }

// siteCameTo names the site that parts of an event came to.
func (e event) siteCameTo() string {
	for _, f := range e.Effects {
		if m := f.Moved; m != nil && m.To.Kind == core.AtSite {
			name := e.site(m.To.Ref)
			return name + comma(name)
		}
	}
	return e.site("")
}
