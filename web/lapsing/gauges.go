package lapsing

import (
	"net/http"
	"slices"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
)

type gaugesPage struct {
	frame
	app.Lapsing[core.Instrument]
	typed app.TypedGauge
	until string // as typed for the row
}

var gaugesKept = map[string]string{"add": "The gauge is stored.", "until": "The new calibration is stored.",
	"withdraw": "The gauge is withdrawn: from today nothing is measured with it."}

func (p pages) gauges(r *http.Request) (gaugesPage, error) {
	all, err := p.s.Gauges(r.Context(), endpoint.CallerOf(r))
	v := gaugesPage{frame: newFrame(r, gaugesKept), Lapsing: all}
	v.today = all.Today
	return v, err
}

func (p pages) showGauges(w http.ResponseWriter, r *http.Request) error {
	v, err := p.gauges(r)
	if err != nil {
		return err
	}
	return endpoint.Render(w, r, gaugesView(v))
}

func (p pages) actGauges(w http.ResponseWriter, r *http.Request) error {
	if err := endpoint.Form(r); err != nil {
		return err
	}
	by, do, id := endpoint.CallerOf(r), value(r, "do"), value(r, "gauge")
	typed := app.TypedGauge{ID: value(r, "instrument"), Kind: value(r, "kind"), Name: value(r, "name"), DueBy: value(r, "due_by")}
	var slips app.Slips
	var err error
	switch do {
	case "add":
		id = ""
		slips, err = p.s.AddGauge(r.Context(), by, typed)
	case "until":
		slips, err = p.s.CalibrateGauge(r.Context(), by, id, value(r, "until"))
	case "withdraw":
		slips, err = p.s.WithdrawGauge(r.Context(), by, id)
	default:
		err = unknownAct()
	}
	if err != nil {
		return err
	}
	if len(slips) == 0 {
		return endpoint.SeeOther(w, r, "/gauges?kept="+do)
	}
	v, err := p.gauges(r)
	if err != nil {
		return err
	}
	v.slips, v.row, v.typed, v.until = slips, id, typed, value(r, "until")
	return endpoint.RenderStatus(w, r, v.status(), gaugesView(v))
}

// kinds are those of the gauges there are, to choose from or not.
func (v gaugesPage) kinds() []string {
	var out []string
	for _, g := range append(slices.Clone(v.Hold), v.Lapsed...) {
		out = append(out, g.Kind)
	}
	slices.Sort(out)
	return slices.Compact(out)
}
