package print

import (
	"net/http/httptest"
	"strings"
	"testing"

	"tagalong/internal/paper"
	"tagalong/internal/paperwork"
)

// The bar says when a print must not be used, and goes back only to a page of ours.
func TestBar(t *testing.T) {
	sheet := func(no, newest int, changes ...string) paperwork.Sheet {
		return paperwork.Sheet{Traveller: paper.Traveller{Code: "P4K7 M2QX", Print: no}, Newest: newest, Changes: changes}
	}
	for name, x := range map[string]struct {
		sheet paperwork.Sheet
		query string
		back  string
		stale string
	}{
		"fresh":           {sheet(2, 2), "?back=/station", "/station", ""},
		"another site":    {sheet(2, 2), "?back=//evil.example", "", ""},
		"a whole address": {sheet(2, 2), "?back=https://evil.example/", "", ""},
		"a backslash":     {sheet(2, 2), "?back=/%5Cevil.example", "", ""},
		"replaced":        {sheet(1, 2), "", "", "replaced by print 2"},
		"changed":         {sheet(2, 2, "wall panel: 4 became 3"), "", "", "wall panel: 4 became 3"},
	} {
		t.Run(name, func(t *testing.T) {
			b := barOf(x.sheet, httptest.NewRequest("GET", "/pallets/P4K7M2QX/traveller"+x.query, nil), paper.A5)
			if b.back != x.back || (x.stale == "") != (b.stale == "") || !strings.Contains(b.stale, x.stale) {
				t.Errorf("back to %q, says %q", b.back, b.stale)
			}
			if !strings.HasPrefix(b.pdf(), "/pallets/P4K7M2QX/traveller.pdf?print=") || !strings.HasSuffix(b.pdf(), "&size=a5") {
				t.Errorf("the PDF is at %s", b.pdf())
			}
			if on := b.on(paper.Label); !strings.Contains(on, "size=label") || (x.back == "") == strings.Contains(on, "back=") {
				t.Errorf("the label is chosen at %s", on)
			}
		})
	}
	if got := FileName(sheet(3, 3).Traveller); got != "traveller-P4K7M2QX-3.pdf" {
		t.Error(got)
	}
}
