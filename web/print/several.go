package print

import (
	"io"
	"net/http"
	"net/url"
	"strings"

	"github.com/google/uuid"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/internal/paper"
	"tagalong/internal/paperwork"
	"tagalong/web/endpoint"
)

// mostAtOnce is more pallets than one motion ever changes.
const mostAtOnce = 24

// severalOf reads a list of pallets' codes, each once.
func severalOf(text string) ([]core.PalletCode, error) {
	var out []core.PalletCode
	seen := map[core.PalletCode]bool{}
	for _, part := range strings.Split(text, ",") {
		c, err := app.ReadCode(part, code.Pallet, code.Sheet)
		if err != nil {
			return nil, err
		}
		if p := core.PalletCode(c); !seen[p] {
			out, seen[p] = append(out, p), true
		}
	}
	if len(out) > mostAtOnce {
		return nil, app.Refuse("bad-value", "field", "pallets", "problem", "it names more than 24 pallets; print those of an order from the order")
	}
	return out, nil
}

// severalAgain numbers a print of each of several pallets and shows them.
func severalAgain(s *app.Service) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if err := endpoint.Form(r); err != nil {
			return err
		}
		codes, err := severalOf(r.PostForm.Get("pallets"))
		if err != nil {
			return err
		}
		id, err := commandID(r)
		if err != nil {
			return err
		}
		if err := paperwork.NumberAll(r.Context(), s, endpoint.CallerOf(r), id, codes); err != nil {
			return err
		}
		return endpoint.SeeOther(w, r, severalPath(".html", codes, ownPath(r.PostForm.Get("back"))))
	}
}

func severalPath(ending string, codes []core.PalletCode, back string) string {
	var list []string
	for _, c := range codes {
		list = append(list, string(c))
	}
	asked := url.Values{"pallets": {strings.Join(list, ",")}}
	if back != "" {
		asked.Set("back", back)
	}
	return "/pallets/travellers" + ending + "?" + asked.Encode()
}

// severalNewest reads the newest prints of the pallets that an address names.
func severalNewest(from paperwork.Source, r *http.Request) ([]core.PalletCode, []paper.Traveller, error) {
	codes, err := severalOf(r.URL.Query().Get("pallets"))
	if err != nil {
		return nil, nil, err
	}
	sheets, err := paperwork.Newest(r.Context(), from, codes)
	if err != nil {
		return nil, nil, err
	}
	var out []paper.Traveller
	for _, x := range sheets {
		out = append(out, x.Traveller)
	}
	return codes, out, nil
}

func severalPage(from paperwork.Source) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		size, err := chooseSize(w, r)
		if err != nil {
			return err
		}
		codes, ts, err := severalNewest(from, r)
		if err != nil {
			return err
		}
		b := bar{shown: true, back: ownPath(r.URL.Query().Get("back")), size: size, id: uuid.NewString()}
		w.Header().Set("Cache-Control", "no-store")
		return endpoint.Render(w, r, several(ts, severalBar{b, codes}))
	}
}

func severalPDF(from paperwork.Source) endpoint.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		size, err := chooseSize(w, r)
		if err != nil {
			return err
		}
		_, ts, err := severalNewest(from, r)
		if err != nil {
			return err
		}
		return write(w, "travellers.pdf", func(out io.Writer) error { return paper.WriteTravellers(out, size, ts...) })
	}
}

// severalBar is the bar above several travellers.
type severalBar struct {
	bar
	codes []core.PalletCode
}

func (b severalBar) pdf() string {
	return severalPath(".pdf", b.codes, "") + "&size=" + b.size.String()
}

func (b severalBar) on(z paper.Size) string {
	return severalPath(".html", b.codes, b.back) + "&size=" + z.String()
}
