package station

import (
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/web/endpoint"
	"tagalong/web/ui"
)

// printsListed is how many pallets fit the page; one motion changes few more.
const printsListed = 5

// printsView is the pallets that a motion changed, with the travellers that no
// longer say what is on them.
type printsView struct {
	head    ui.StationHead
	pallets []app.PalletPage
	now     time.Time
	self    string
	next    core.PalletCode // whose page follows; empty: the station at rest
	id      string          // of the commands that number the prints
}

func (p pages) prints(w http.ResponseWriter, r *http.Request) error {
	caller := endpoint.CallerOf(r)
	st, err := p.s.StationPage(r.Context(), caller, beside(""))
	if err != nil {
		return err
	}
	v := printsView{head: headOf(r, st.Station, "Print"), now: endpoint.PageOf(r).Now, self: r.URL.RequestURI(), id: uuid.NewString()}
	for _, text := range strings.Split(r.URL.Query().Get("pallets"), ",") {
		scan, err := code.ParseScan(text)
		if err != nil || scan.Code.Require(code.Pallet, code.Sheet) != nil || v.lists(core.PalletCode(scan.Code)) || len(v.pallets) == mostPrints {
			continue
		}
		pallet, err := p.s.PalletPage(r.Context(), caller, core.PalletCode(scan.Code), 0, "")
		if errors.Is(err, app.ErrNotFound) || err == nil && pallet.Empty() {
			continue
		}
		if err != nil {
			return err
		}
		v.pallets = append(v.pallets, pallet)
	}
	v.next = v.follows(core.PalletCode(r.URL.Query().Get("next")))
	return endpoint.Render(w, r, printsPage(v))
}

// mostPrints bounds what one address asks for.
const mostPrints = 12

func (v printsView) lists(c core.PalletCode) bool {
	return slices.ContainsFunc(v.pallets, func(p app.PalletPage) bool { return p.Pallet.Code == c })
}

// follows is the pallet to go on with: the one asked for where it still carries
// something, else the first good one that is here.
func (v printsView) follows(asked core.PalletCode) core.PalletCode {
	if v.lists(asked) || asked == "" {
		return asked
	}
	for _, p := range v.pallets {
		if p.Here && p.Pallet.Kind != core.Quarantine {
			return p.Pallet.Code
		}
	}
	return ""
}

// due are the pallets that want a print.
func (v printsView) due() []app.PalletPage {
	return slices.DeleteFunc(slices.Clone(v.pallets), func(p app.PalletPage) bool { return !p.Print.Due })
}

// dueCodes is how the endpoint that prints them is told.
func (v printsView) dueCodes() string {
	var out []string
	for _, p := range v.due() {
		out = append(out, string(p.Pallet.Code))
	}
	return strings.Join(out, ",")
}

// nextLink is where to go on.
func (v printsView) nextLink() string {
	if v.next == "" {
		return "/station"
	}
	return "/station/pallets/" + string(v.next)
}

func (v printsView) nextText() string {
	if v.next == "" {
		return "Back to the station"
	}
	return "Go on with " + ui.Spaced(string(v.next))
}

// title says how many prints are wanted.
func (v printsView) title() string {
	switch due := v.due(); {
	case len(v.pallets) == 0:
		return "There is no pallet to print for"
	case len(due) == 0:
		return "Every pallet has its traveller"
	case len(due) == 1 && due[0].Pallet.Kind == core.Quarantine:
		return "One traveller to print, of the quarantine pallet"
	case len(due) == 1:
		return "One traveller no longer says what is on its pallet"
	case len(due) == 2:
		return "Both travellers have changed"
	default:
		return strconv.Itoa(len(due)) + " travellers have changed"
	}
}

// printText is the main button's.
func (v printsView) printText() string {
	switch due := v.due(); {
	case len(due) == 1 && due[0].Pallet.Kind == core.Quarantine:
		return "Print the quarantine traveller"
	case len(due) == 1:
		return "Print the traveller of " + ui.Spaced(string(due[0].Pallet.Code))
	case len(due) == 2:
		return "Print both travellers"
	default:
		return "Print all " + strconv.Itoa(len(due)) + " travellers"
	}
}

// like is the first pallet listed with lots that may be made one, and those lots.
func (v printsView) like() (p app.PalletPage, lots []app.LotView) {
	for _, p := range v.pallets {
		if len(p.Alike) == 0 || !p.Here {
			continue
		}
		for _, l := range p.Lots {
			if slices.Contains(p.Alike[0], l.Lot.ID) {
				lots = append(lots, l)
			}
		}
		return p, lots
	}
	return p, nil
}

// likeText says what making one lot of them comes to.
func likeText(lots []app.LotView) string {
	sum := 0
	var letters []string
	for _, l := range lots {
		sum += l.Lot.Qty
		letters = append(letters, l.Letter)
	}
	return "Make one lot of " + ui.List(letters...) + ": " + strconv.Itoa(sum) + " × " + lots[0].Name
}

// onIt says what a pallet carries, in a line.
func onIt(p app.PalletPage) string {
	var out []string
	for _, l := range p.Lots[:min(3, len(p.Lots))] {
		out = append(out, strconv.Itoa(l.Lot.Qty)+" × "+l.Name)
	}
	if n := len(p.Lots) - 3; n > 0 {
		out = append(out, ui.Count(n, "more lot"))
	}
	return ui.List(out...)
}
