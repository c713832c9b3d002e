package people

import (
	"strings"
	"testing"
	"time"

	"tagalong/internal/core"
	"tagalong/web/endpoint"
)

// What the page says of a qualification: which, how far, to what day, and which of its two clocks comes first.
func TestQualificationInWords(t *testing.T) {
	now := time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		q    core.Qualification
		want string
	}{
		{core.Qualification{Process: "weld-inspection", ValidTo: "2026-12-31"}, "weld inspection, any metal, any thickness, to Thu 31 Dec"},
		{core.Qualification{Process: "weld", Metal: "aluminium", MaxThickness: 12, ValidTo: "2026-12-31", ConfirmBy: "2026-12-04"},
			"weld, aluminium, up to 12 mm, to Thu 31 Dec if confirmed by Fri 4 Dec"},
		{core.Qualification{Process: "weld", Metal: "aluminium", Positions: []string{"PA", "PB"}, ValidTo: "2026-12-31"},
			"weld, aluminium, in PA, PB, to Thu 31 Dec"},
		{core.Qualification{Process: "weld", ValidTo: "2026-11-10", ConfirmBy: "2027-01-15"}, "ran out weld, any metal, any thickness, to Tue 10 Nov"},
		{core.Qualification{Process: "weld", ValidTo: "2026-12-31", ConfirmBy: "2026-11-10"},
			"not confirmed in time weld, any metal, any thickness, to Thu 31 Dec if confirmed by Tue 10 Nov"},
	} {
		var b strings.Builder
		if err := qualification(endpoint.Page{Now: now}, c.q).Render(t.Context(), &b); err != nil {
			t.Fatal(err)
		}
		if got := shown(b.String()); got != c.want {
			t.Errorf("got  %s\nwant %s", got, c.want)
		}
	}
}

// shown is what a browser shows of some HTML, near enough: tags go, blanks fall together.
func shown(html string) string {
	var b strings.Builder
	inside := false
	for _, r := range html {
		switch {
		case r == '<':
			inside = true
		case r == '>':
			inside = false
		case !inside:
			b.WriteRune(r)
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}
