package shopday

import (
	"encoding/base64"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/app"
	"tagalong/internal/browsertest"
	"tagalong/internal/core"
)

// printedList is a packing list as a dispatcher gets it: its text, and what its
// symbols say.
type printedList struct {
	text  string
	links []string // those that are links
}

// printsWithLink presses the button of the page of links and reads the paper
// with programs not ours.
func (s *site) printsWithLink(desk *screen) printedList {
	s.t.Helper()
	raw := browsertest.Run(s.t, desk.ctx, chromedp.Evaluate[string](`(async () => {
		const form = document.querySelector("form[action$='packing-list.pdf']");
		const answer = await fetch(form.action, {method: form.method});
		const bytes = new Uint8Array(await answer.arrayBuffer());
		return btoa(bytes.reduce((all, b) => all + String.fromCharCode(b), ""));
	})()`, chromedp.EvalAwaitPromise))
	pdf, err := base64.StdEncoding.DecodeString(raw)
	must(s.t, err)
	dir := s.t.TempDir()
	file := filepath.Join(dir, "list.pdf")
	must(s.t, os.WriteFile(file, pdf, 0o600))
	if shots := os.Getenv("TAGALONG_SCREENSHOTS"); shots != "" {
		must(s.t, os.WriteFile(filepath.Join(shots, "packing-list-link.pdf"), pdf, 0o600))
	}
	text, err := exec.Command("pdftotext", file, "-").Output() // poppler
	must(s.t, err)
	must(s.t, exec.Command("pdftoppm", "-r", "200", "-png", file, filepath.Join(dir, "page")).Run())
	pages, err := filepath.Glob(filepath.Join(dir, "page*.png"))
	must(s.t, err)
	out := printedList{text: strings.Join(strings.Fields(string(text)), " ")}
	for _, p := range pages {
		read, err := exec.Command("zbarimg", "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", p).Output()
		must(s.t, err)
		for _, symbol := range strings.Fields(string(read)) {
			if _, token, ok := strings.Cut(symbol, "/L/"); ok {
				out.links = append(out.links, "/L/"+token)
			}
		}
	}
	if len(out.links) != 1 {
		s.t.Fatalf("the list's links are %q", out.links)
	}
	return out
}

// A link printed on the packing list: the newest list alone has one that may be
// claimed; a list printed before keeps the one somebody has claimed.
func TestAPackingListWithALink(t *testing.T) {
	s := &site{house: furnish(open(t))}
	s.covered()
	s.dock = s.house.tablet("DOCK-1")
	s.truck = s.leaves("PN26 HLE")
	desk := s.desk("P25")
	desk.open("/dock/" + s.truck + "/links")
	packed := s.packedBy()
	first := s.printsWithLink(desk)
	for _, want := range []string{"FOR THE FITTER AT THE SITE", "the shop, which withdraws the link", "service cover", packed} {
		if !strings.Contains(first.text, want) {
			t.Errorf("the list does not say %q:\n%s", want, first.text)
		}
	}
	second := s.printsWithLink(desk)
	phone := s.device("a fitter's phone", browsertest.Phone)
	browsertest.Expect(t, phone.ctx, "410")
	phone.open(first.links[0])
	phone.sees("h1", "This link was revoked by the shop.")
	phone.open(second.links[0])
	phone.sees("main", "For whoever received the packing list it is printed on.")
	phone.leaves(func() { phone.click("button.main") })
	phone.sees("h1", "0 of 1 box")

	third := s.printsWithLink(desk)
	phone.open("/site/mine") // claimed, and so still good
	phone.sees("h1", "0 of 1 box")
	desk.open("/dock/" + s.truck + "/links")
	desk.sees("table", "whoever holds the packing list not opened yet")
	desk.sees("table", "whoever holds the packing list claimed")
	desk.sees("table", "whoever holds the packing list revoked")
	desk.pictures("link-printed")
	desk.leaves(func() { desk.click(`form[action$="-3/revoke"] button`) })
	other := s.device("another phone", browsertest.Phone)
	browsertest.Expect(t, other.ctx, "410")
	other.open(third.links[0])
	other.sees("h1", "This link was revoked by the shop.")
	s.verified()
}

// packedBy is when the covers were packed and by whom, as a list says it.
func (s *site) packedBy() string {
	s.t.Helper()
	found, err := s.store.History(s.t.Context(), app.HistoryQuery{Pallet: s.pallet, Kind: core.EvSigned})
	must(s.t, err)
	for _, e := range found {
		if e.Stage == "pack" {
			return e.Happened.In(s.book().Zone).Format("Mon 2 Jan 15:04 ") + app.Initials(s.book().People[e.Signed[0].Person].Name)
		}
	}
	s.t.Fatal("nobody packed the covers")
	return ""
}
