package core

import (
	"slices"
	"time"
)

// traits says what the revision and route ask of a lot at a step. It reads the
// book and never the lot's facts: a forgotten weld must not pass for a part
// that is not welded.
func traits(b *Book, l Lot, s Step) map[Trait]bool {
	rev, route := b.Items[l.Item], b.Routes[l.Route]
	coat := len(rev.Faces()) > 0
	return map[Trait]bool{
		AsksCoat:        coat,
		EdgesAsCut:      rev.EdgesAsCut,
		BareAsCut:       rev.EdgesAsCut && !coat,
		FoldsFirst:      rev.FoldsFirst,
		RouteWelds:      route.Has("weld"),
		AsksDressing:    route.Has("weld-dress"),
		PlacedAfterCoat: s.AfterCoat,
		IsKit:           rev.Kind == KitItem,
		IsBought:        rev.Kind == BoughtItem,
		OnRework:        l.Rework != nil,
		IsAssembled:     len(rev.Bill) > 0,
	}
}

// counts reports whether the condition speaks of a lot with these traits.
func (c Condition) counts(t map[Trait]bool) bool {
	for _, x := range c.If {
		if !t[x] {
			return false
		}
	}
	return !slices.ContainsFunc(c.Unless, func(x Trait) bool { return t[x] })
}

// facts spells a condition out for a lot at a step: the facts it speaks of. A
// condition on any face lists the faces for which it is not no.
func (c Condition) facts(rev Revision, l Lot, s Step, at time.Time) []Fact {
	var of []string
	switch c.Scope {
	case Itself:
		return []Fact{{Name: c.Fact}}
	case ThisPlace:
		if s.Place != "" {
			return []Fact{{c.Fact, s.Place}}
		}
		of = faceTexts(thisFaces(rev, s))
	case ThisFace:
		of = faceTexts(thisFaces(rev, s))
	case AskedFace:
		of = faceTexts(rev.Faces())
	case CoatFaces:
		of = l.Facts.Of(Coated, at)
	case AnyFace:
		of = l.Facts.Of(c.Fact, at)
	}
	var out []Fact
	for _, f := range of {
		out = append(out, Fact{c.Fact, f})
	}
	return out
}

// thisFaces is the face a step names; a step that names none means every face
// the revision wants in the step's colour, or every asked face.
func thisFaces(rev Revision, s Step) []Face {
	if s.Face != "" {
		return []Face{s.Face}
	}
	var out []Face
	for _, f := range rev.Faces() {
		if s.Colour == "" || s.Colour == rev.Colour(f) {
			out = append(out, f)
		}
	}
	return out
}

func faceTexts(fs []Face) []string {
	var out []string
	for _, f := range fs {
		out = append(out, string(f))
	}
	return out
}

// missing is the first fact a need wants and does not find, and how it stands.
func (c Condition) missing(rev Revision, l Lot, s Step, at time.Time) (Fact, Value, bool) {
	for _, f := range c.facts(rev, l, s, at) {
		if v := l.Facts.At(f, at); v != Yes {
			return f, v, true
		}
	}
	return Fact{}, Yes, false
}

// standing is the first fact a forbid finds and does not want.
func (c Condition) standing(rev Revision, l Lot, s Step, at time.Time) (Fact, Value, bool) {
	for _, f := range c.facts(rev, l, s, at) {
		if v := l.Facts.At(f, at); v != No {
			return f, v, true
		}
	}
	return Fact{}, No, false
}

// Refusal codes of facts that are wanted and missing, or there and not wanted.
// A shop's own facts fall back to fact-missing and fact-forbids.
var (
	missingCode = map[string]string{
		MaterialIdentified: "material-not-identified", GoodsAccepted: "goods-not-accepted", IsCut: "not-cut",
		Separated: "not-separated", EdgesRounded: "edges-not-rounded", Welded: "not-welded",
		WeldDressed: "welds-not-dressed", WeldAccepted: "hold-not-released", Pretreated: "not-pretreated",
		Cured: "not-cured", CoatAccepted: "coat-not-accepted", FinalAccepted: "not-final-checked",
		KitComplete: "kit-not-checked", SampleRefused: "nothing-to-sort", IsPacked: "not-packed",
		IsShipped: "not-shipped", IsReceived: "not-received",
		IsUnpacked: "not-unpacked", IsFitted: "not-fitted",
	}
	forbiddenCode = map[string]string{
		Coated: "already-coated", Folded: "already-folded", Welded: "already-welded",
		HardwareFitted: "hardware-in-the-way", Masked: "still-masked",
	}
)

// missingFact words a missing need.
func missingFact(f Fact, v Value, s Standing, at time.Time, zone *time.Location) *Refusal {
	if v == Unsure {
		return refuse("fact-unsure", "fact", f.Name, "face", f.Of)
	}
	if f.Name == Pretreated && s.Value == Yes && !s.Lapses.IsZero() && at.After(s.Lapses) {
		return refuse("pretreat-lapsed", "since", s.Lapses.In(zone).Format("15:04 on 2 January"))
	}
	if code, ok := missingCode[f.Name]; ok {
		return refuse(code, "face", f.Of)
	}
	return refuse("fact-missing", "fact", f.Name, "face", f.Of)
}

// forbiddenFact words a fact in the way.
func forbiddenFact(f Fact, v Value) *Refusal {
	if v == Unsure {
		return refuse("fact-unsure", "fact", f.Name, "face", f.Of)
	}
	if code, ok := forbiddenCode[f.Name]; ok {
		return refuse(code, "face", f.Of)
	}
	return refuse("fact-forbids", "fact", f.Name, "face", f.Of)
}
