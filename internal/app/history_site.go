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
