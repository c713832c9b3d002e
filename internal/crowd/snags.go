package crowd

import (
	"fmt"
	"reflect"

	"tagalong/internal/core"
)

// snag books a snag: it is reported once, put right once, and closed for good.
func (k *Books) snag(e core.Event, s core.Snag) error {
	was, there := k.snags[s.ID]
	switch {
	case there == (e.Kind == core.EvSnagReported):
		return fmt.Errorf("snag %s, there before: %v", s.ID, there)
	case there && !was.Open():
		return fmt.Errorf("snag %s was closed", s.ID)
	case e.Kind == core.EvSnagPutRight && (was.PutRight != nil || !s.Open()):
		return fmt.Errorf("snag %s was put right, or is closed by that", s.ID)
	case e.Kind == core.EvSnagClosed && s.Open():
		return fmt.Errorf("snag %s is open still", s.ID)
	}
	k.snags[s.ID] = s
	return nil
}

// Snagged: no snag is forgotten, and none is another than its events say.
func (k *Books) Snagged(s *core.State) error {
	if len(s.Snags) != len(k.snags) {
		return fmt.Errorf("%d snags, %d were reported", len(s.Snags), len(k.snags))
	}
	for id, x := range k.snags {
		if !reflect.DeepEqual(s.Snags[id], x) {
			return fmt.Errorf("snag %s is %+v, its events say %+v", id, s.Snags[id], x)
		}
	}
	return nil
}

func (w *Walk) reportSnag() {
	b := core.ReportSnag{Order: one(w, keys(w.State().Orders), "order"), What: "a door rubs"}
	if w.now("of what is at the site") {
		l := one(w, w.atTheSite(), "lot at the site")
		b.Unit = l.ID
		if w.now("its order is plain") {
			b.Order = ""
		}
	}
	w.at("report-snag", b, Site, "P27")
}

// dealWithSnag puts a snag right, or closes it.
func (w *Walk) dealWithSnag() {
	var open []core.SnagID
	closed := w.UpTo(5, "closed or not") == 5
	for _, id := range keys(w.State().Snags) {
		if w.State().Snags[id].Open() || closed {
			open = append(open, id)
		}
	}
	id := one(w, open, "snag")
	if w.now("closed") {
		w.at("close-snag", core.CloseSnag{Snag: id, Done: "planed"}, "", "P18")
		return
	}
	w.at("put-right-snag", core.PutRightSnag{Snag: id, Done: "planed"}, Site, "P27")
}
