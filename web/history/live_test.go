package history_test

import (
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/history"
	"tagalong/web/webtest"
)

// Work begun on the wrong pallet is taken back on the history's
// page, and the page then says so.
func TestTakingBackOnTheScreen(t *testing.T) {
	f, p := apptest.New(t), pallet(t)
	f.Pallet(p, "BRAKE-1")
	id := f.Lot(p, "BK-90", core.Owner{Order: "O-4107", Line: 1}, 40, "fold")
	s := webtest.Live(t, f, func(svc *app.Service) []endpoint.Endpoint { return history.Endpoints(svc) })
	svc := s.Service()
	badge := s.Badge(t, "P12")
	ctx := browsertest.New(t, browsertest.Desk)
	s.Enrol(t, ctx, "BRAKE-1")

	now := apptest.Now
	_, err := svc.Store.Execute(t.Context(), core.Command{ID: "begin-1", Happened: now, Station: "BRAKE-1", Body: core.Begin{Pallet: p, Stage: "fold"}},
		[32]byte{1}, func(w core.World) core.Outcome {
			return core.Decide(w, core.Command{ID: "begin-1", Happened: now, Station: "BRAKE-1", Body: core.Begin{Pallet: p, Stage: "fold"}})
		})
	if err != nil || s.World.State.Lots[id].Started == nil {
		t.Fatalf("begin: %v, %+v", err, s.World.State.Lots[id])
	}
	browsertest.Do(t, ctx, chromedp.Navigate(s.URL+"/history/"+string(p)), chromedp.WaitVisible(".take-back"),
		chromedp.Click(".take-back summary"), chromedp.SendKeys(".take-back [name=reason]", "wrong pallet scanned"), chromedp.Click(".take-back button"),
		chromedp.WaitVisible("#sign"), chromedp.SendKeys("#badge", badge+"\r"), chromedp.SendKeys("#pin", apptest.PIN), chromedp.WaitVisible(".taken-back"))
	if s.World.State.Lots[id].Started != nil {
		t.Error("what was begun still stands")
	}
	if last := s.Events[len(s.Events)-1]; last.Kind != core.EvCorrected || last.Note != "wrong pallet scanned" {
		t.Errorf("the last entry: %+v", last.Event)
	}
}
