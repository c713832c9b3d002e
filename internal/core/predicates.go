package core

import (
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
)

// predicate judges one rule that rows of facts can't say; nil means it holds.
// Of a unit build, BuildComplete is judged where it is signed, and
// EveryPartJudged with the counts.
func (d *deciding) predicate(p Predicate, l Lot, s Step, at time.Time) *Refusal {
	rev := d.w.Book.Items[l.Item]
	switch p {
	case BuildComplete:
		// A made unit has all its components inside; what was gathered by nobody has
		// none of them on record.
		if len(rev.Bill) > 0 && l.Unit == "" {
			return refuse("unit-not-gathered").absolute()
		}
	case InDate:
		return d.inDate(l)
	case NoOpenStop:
		return d.noOpenStop(l)
	case SomeFaceCoated:
		if l.Facts.Any(Coated, at) != Yes {
			return refuse("nothing-coated")
		}
	case CoatToStrip:
		if l.Facts.Any(Coated, at) == No {
			return refuse("nothing-to-strip")
		}
	case BakesLeft:
		if most := bakes(rev); l.Bakes >= most {
			return refuse("bakes-spent", "bakes", strconv.Itoa(l.Bakes), "most", strconv.Itoa(most))
		}
	case FaceTakesCoat:
		return d.faceTakesCoat(l, rev, s, at)
	case OtherFacesSafe:
		return otherFacesSafe(l, rev, s, at)
	case AbrasiveSuits:
		return d.abrasiveSuits(rev)
	}
	return nil
}

// bakes is how often the powder may be baked; three where the drawing does not
// say (common practice, no source: the powder maker's sheet decides).
func bakes(rev Revision) int {
	if rev.MaxBakes > 0 {
		return rev.MaxBakes
	}
	return 3
}

// stepColour is the colour a coat step sprays: its own, or what the drawing
// asks of its face.
func stepColour(rev Revision, s Step) string {
	if s.Colour != "" {
		return s.Colour
	}
	for _, f := range thisFaces(rev, s) {
		return rev.Colour(f)
	}
	return ""
}

// faceTakesCoat: the face carries no coat yet, unless a disposition lets it be
// coated over, and nothing beside it is coated and uncured, unless it is the
// same colour sprayed in the same run (the same powder batch).
func (d *deciding) faceTakesCoat(l Lot, rev Revision, s Step, at time.Time) *Refusal {
	faces := thisFaces(rev, s)
	if len(faces) == 0 {
		return refuse("no-coat-asked")
	}
	for _, f := range faces {
		if l.Facts.At(Fact{Coated, string(f)}, at) != No && !slices.Contains(l.Overcoat, f) {
			return refuse("face-coated", "face", string(f))
		}
	}
	colour := stepColour(rev, s)
	for _, g := range l.Facts.Of(Coated, at) {
		if slices.Contains(faces, Face(g)) || l.Facts.At(Fact{Cured, g}, at) == Yes {
			continue
		}
		was, batch, _ := strings.Cut(l.Facts[Fact{Coated, g}].Note, ", batch ")
		if was != colour || (d.inputs != nil && batch != d.batchOf("powder")) {
			return refuse("uncured-beside", "face", g)
		}
	}
	return nil
}

// otherFacesSafe: every face of another colour, or to stay bare, is masked, or
// cured where the drawing does not ask it to be protected as well.
func otherFacesSafe(l Lot, rev Revision, s Step, at time.Time) *Refusal {
	faces, colour := thisFaces(rev, s), stepColour(rev, s)
	for _, f := range rev.Finish {
		if slices.Contains(faces, f.Face) || f.Colour == colour {
			continue
		}
		if l.Facts.At(Fact{Masked, string(f.Face)}, at) == Yes {
			continue
		}
		if l.Facts.At(Fact{Cured, string(f.Face)}, at) == Yes && !f.Protect && f.Colour != Bare {
			continue
		}
		return refuse("face-unprotected", "face", string(f.Face), "colour", f.Colour)
	}
	return nil
}

// abrasiveSuits: the belt or disc never touched the other metal. Steel in an
// aluminium surface rusts and spoils the coat, and their dusts together can
// burn; so the rule is absolute.
func (d *deciding) abrasiveSuits(rev Revision) *Refusal {
	a, ok := d.abrasive()
	if !ok || rev.Metal == "" {
		return nil
	}
	for _, m := range a.Touched {
		if isAluminium(m) != isAluminium(rev.Metal) {
			return refuse("abrasive-touched", "abrasive", a.ID, "touched", string(m), "metal", string(rev.Metal)).absolute()
		}
	}
	if kept := d.station().Metal; kept != "" && isAluminium(kept) != isAluminium(rev.Metal) {
		return refuse("abrasive-kept", "abrasive", a.ID, "kept", string(kept), "metal", string(rev.Metal)).absolute()
	}
	return nil
}

func isAluminium(m Metal) bool { return m == Aluminium }

// abrasive is the belt or disc the command names, or the one its station has
// mounted.
func (d *deciding) abrasive() (Abrasive, bool) {
	id := d.station().Abrasive
	if b, ok := d.c.Body.(SignOff); ok && b.Abrasive != "" {
		id = b.Abrasive
	}
	if id == "" {
		return Abrasive{}, false
	}
	if a, ok := d.s.Abrasives[id]; ok {
		return a, true
	}
	return Abrasive{ID: id}, true
}

// noOpenStop: nothing leaves, or is packed, with a hold or a nonconformity open.
func (d *deciding) noOpenStop(l Lot) *Refusal {
	if h, held := d.heldBy(l); held {
		return refuse("lot-held", "reason", h.Reason, "hold", string(h.ID)).absolute()
	}
	for _, id := range slices.Sorted(maps.Keys(d.s.Problems)) {
		if p := d.s.Problems[id]; p.Lot == l.ID && p.Open() {
			return refuse("problem-open", "problem", string(p.ID), "what", p.What).absolute()
		}
	}
	return nil
}

// inDate: nothing bought goes into anything, or leaves, after its last day.
func (d *deciding) inDate(l Lot) *Refusal {
	if l.Expires.Before(d.day()) {
		return refuse("goods-expired", "on", string(l.Expires))
	}
	return nil
}

// heldBy finds an open hold that names the lot in any of its ways.
func (d *deciding) heldBy(l Lot) (Hold, bool) {
	return HeldBy(d.s, l)
}

// HeldBy finds the oldest open hold that stops a lot: by the lot itself, its
// pallet, item, a heat, a batch, its order, or a gauge it was measured with.
func HeldBy(s *State, l Lot) (Hold, bool) {
	var first Hold
	found := false
	for _, h := range s.Holds {
		if h.Open() && h.stops(&l) && (!found || h.At.Before(first.At) || h.At.Equal(first.At) && h.ID < first.ID) {
			first, found = h, true
		}
	}
	return first, found
}

func (h Hold) stops(l *Lot) bool {
	switch h.Scope {
	case HoldLot:
		return LotID(h.Ref) == l.ID || slices.Contains(l.Parents, LotID(h.Ref))
	case HoldPallet:
		return l.Place == On(PalletCode(h.Ref))
	case HoldItem:
		return l.Item.Key() == h.Ref || string(l.Item.Item) == h.Ref
	case HoldHeat:
		return slices.Contains(l.Heats, h.Ref)
	case HoldBatch:
		return slices.Contains(l.Batches, h.Ref)
	case HoldOrder:
		return l.Owner.Order == h.Ref
	case HoldGauge:
		at, ok := l.Gauges[h.Ref]
		return ok && at.After(h.Since)
	}
	return false
}
