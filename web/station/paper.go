package station

import (
	"errors"
	"net/http"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/words"
	"tagalong/web/endpoint"
)

// paper is the page on which a step signed with a pen is entered: the pallet's
// own work page, with the time that stands on the paper, signed by two.
func (p pages) paper(w http.ResponseWriter, r *http.Request) error {
	scan, err := code.ParseScan(chi.URLParam(r, "code"))
	if err == nil {
		err = scan.Code.Require(code.Pallet, code.Sheet)
	}
	if err != nil {
		return p.refuseCode(w, r, err)
	}
	caller := endpoint.CallerOf(r)
	print, _ := strconv.Atoi(r.URL.Query().Get("print"))
	pallet, err := p.s.PalletPage(r.Context(), caller, core.PalletCode(scan.Code), max(print, 0), abrasiveOf(r.URL.Query().Get("abrasive")))
	if errors.Is(err, app.ErrNotFound) {
		return p.refuse(w, r, http.StatusNotFound, words.Refusal("pallet-unknown", map[string]string{"pallet": scan.Code.Spaced()}))
	}
	if err != nil {
		return err
	}
	st, err := p.s.StationPage(r.Context(), caller)
	if err != nil {
		return err
	}
	v := newPalletView(r, st, pallet)
	if v.state() != isWork || v.task.Stage.Name == "separate" || v.task.Stage.Name == "join-late" {
		return p.refuse(w, r, http.StatusNotFound, words.Text{
			Title:  "Nothing on " + scan.Code.Spaced() + " can be entered from paper here.",
			Why:    "A signature from paper is judged like any other: the pallet is to be here, with a step that this station does.",
			Remedy: "Scan the pallet: its page says where it is and what comes next. Keep the paper.",
		})
	}
	v.paper = true
	return endpoint.Render(w, r, paperPage(v))
}

// paperLink leads to the page on which the task is entered from paper.
func (v palletView) paperLink() string {
	return strings.Replace(v.taskLink(v.task), "/station/pallets/", "/station/paper/", 1)
}

// zone is the shop's, whose clocks the paper was signed by.
func (v palletView) zone() string { return v.now.Location().String() }
