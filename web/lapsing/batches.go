package lapsing

import (
	"net/http"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
)

type batchesPage struct {
	frame
	app.Lapsing[core.Batch]
	typed app.TypedBatch
	kinds []string
}

var batchesKept = map[string]string{"add": "The batch is stored.", "withdraw": "The batch is withdrawn: from today no step takes it."}

func (p pages) batches(r *http.Request) (batchesPage, error) {
	all, err := p.s.Batches(r.Context(), endpoint.CallerOf(r))
	if err != nil {
		return batchesPage{}, err
	}
	book, err := p.s.Book(r.Context())
	if err != nil {
		return batchesPage{}, err
	}
	v := batchesPage{frame: newFrame(r, batchesKept), Lapsing: all, kinds: app.BatchKinds(book)}
	v.today = all.Today
	return v, nil
}

func (p pages) showBatches(w http.ResponseWriter, r *http.Request) error {
	v, err := p.batches(r)
	if err != nil {
		return err
	}
	return endpoint.Render(w, r, batchesView(v))
}

func (p pages) actBatches(w http.ResponseWriter, r *http.Request) error {
	if err := endpoint.Form(r); err != nil {
		return err
	}
	by, do, no := endpoint.CallerOf(r), value(r, "do"), value(r, "of")
	typed := app.TypedBatch{Batch: value(r, "batch"), Kind: value(r, "kind"), Colour: value(r, "colour"), Expires: value(r, "expires")}
	var slips app.Slips
	var err error
	switch do {
	case "add":
		no = ""
		slips, err = p.s.AddBatch(r.Context(), by, typed)
	case "withdraw":
		slips, err = p.s.WithdrawBatch(r.Context(), by, no)
	default:
		err = unknownAct()
	}
	if err != nil {
		return err
	}
	if len(slips) == 0 {
		return endpoint.SeeOther(w, r, "/batches?kept="+do)
	}
	v, err := p.batches(r)
	if err != nil {
		return err
	}
	v.slips, v.row, v.typed = slips, no, typed
	return endpoint.RenderStatus(w, r, v.status(), batchesView(v))
}
