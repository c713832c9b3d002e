package station

import (
	"net/http"
	"strings"

	"tagalong/internal/words"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

// paper is the page on which a step signed with a pen is entered: the pallet's
// own work page, with the time that stands on the paper, signed by two.
func (p pages) paper(w http.ResponseWriter, r *http.Request) error {
	v, found, err := p.scanned(w, r)
	if !found {
		return err
	}
	if v.state() != isWork || v.task.Stage.Name == "separate" || v.task.Stage.Name == "join-late" {
		return p.refuse(w, r, http.StatusNotFound, words.Text{
			Title:  "Nothing on " + ui.Spaced(v.code()) + " can be entered from paper here.",
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
