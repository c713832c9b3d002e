package main

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"tagalong/internal/core"
)

var tags = regexp.MustCompile(`<[^>]*>`)

// panel is a two-colour part as a drawing asks it, typed on the page.
func panel() url.Values {
	return url.Values{"kind": {"part"}, "item": {"Q-2"}, "rev": {"A"}, "name": {"door panel"}, "metal": {"aluminium"}, "grade": {"5005-H32"},
		"thickness_mm": {"2"}, "length_mm": {"900"}, "width_mm": {"600"}, "hand": {"left"}, "mass_kg": {"2.9"},
		"finish": {"faces"}, "outside": {"basalt"}, "inside": {"chalk"}, "cover": {"yes"}, "edges": {""}, "fold": {"yes"}, "own": {"yes"},
		"place.0": {"threads M6"}, "place.2": {"earth point"},
		"check-step.0": {"fold"}, "check.0": {"Outside flange"}, "nominal.0": {"30"}, "tolerance.0": {"0.5"}, "unit.0": {"mm"}, "gauge.0": {"caliper"}, "source.0": {"drawing"},
		"check-step.2": {"coat-inspect"}, "check.2": {"Even under the lamp, at 3 m"},
		"sample-step.0": {"coat-inspect"}, "size.0": {"5"}, "up-to.0": {"50"},
		"step": {"cut", "separate", "edge-round", "fold", "pretreat", "coat", "cure", "coat-inspect", "pack"}}
}

// TestADrawingIsTyped with a colour for each face, masked places, checks and a
// sample: the route is drawn and walked before it is stored, and what is stored
// is what was drawn.
func TestADrawingIsTyped(t *testing.T) {
	s := newShop(t)
	b := s.signedIn("P02")
	form := panel()

	got := b.form("/setup/item/route", form)
	if got.StatusCode != http.StatusOK || strings.Contains(got.body, "<html") {
		t.Fatalf("the route alone: %d %s", got.StatusCode, got.body)
	}
	text := strings.Join(strings.Fields(tags.ReplaceAllString(got.body, " ")), " ")
	for _, want := range []string{"Fold, 1 check Mask: threads M6 Mask: earth point Pretreat Mask: inside Coat: outside Cure Take the masking off: inside " +
		"Key and clean Mask: outside Coat: inside Cure Take the masking off: outside Take the masking off: threads M6",
		"The rules walk 20 steps from the first to the last and refuse none."} {
		if !strings.Contains(text, want) {
			t.Errorf("the drawn route lacks %q: %s", want, text)
		}
	}
	form["step"] = []string{"cut", "separate", "edge-round", "fold", "coat", "cure", "coat-inspect", "pack"}
	if got := b.form("/setup/item/route", form); !strings.Contains(got.body, "The step “Coat” would be refused") {
		t.Errorf("without pretreatment it says %s", got.body)
	}
	form["edges"] = []string{"as-cut"}
	if got := b.form("/setup/item/route", form); !strings.Contains(got.body, "edges as cut") || !strings.Contains(got.body, "would be refused") {
		t.Errorf("a coat on edges as cut: %s", got.body)
	}

	// More lines, by the server, with everything still there.
	form = panel()
	form.Set("do", "more-checks")
	got = b.form("/setup/item", form)
	for _, want := range []string{`name="check.5"`, `value="Even under the lamp, at 3 m"`, `value="earth point"`, `value="chalk"`, "<details class=\"fold\" open"} {
		if got.StatusCode != http.StatusOK || !strings.Contains(got.body, want) {
			t.Errorf("more checks: %d, and not %q", got.StatusCode, want)
		}
	}
	form.Del("do")
	form.Set("nominal.0", "30,0")
	form.Set("up-to.0", "many")
	got = b.form("/setup/item", form)
	if got.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(got.body, "a number beside a nominal value") {
		t.Errorf("a comma: %d %s", got.StatusCode, got.body)
	}
	form.Set("nominal.0", "30")
	if got = b.form("/setup/item", form); got.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(got.body, `id="slip-up-to.0"`) {
		t.Errorf("half a sample: %d", got.StatusCode)
	}
	if got = b.form("/setup/item", panel()); got.StatusCode != http.StatusSeeOther {
		t.Fatalf("store it: %d %s", got.StatusCode, got.body)
	}

	book, err := s.app.Book(t.Context())
	must(t, err)
	v := book.Items[core.ItemRev{Item: "Q-2", Rev: "A"}]
	route := book.Routes[v.Route]
	if v.Colour("outside") != "basalt" || v.Colour("inside") != "chalk" || !v.Finish[0].Protect || v.Hand != "left" || v.MassEach != 2.9 || route.Name != "Q-2" || len(route.Steps) != 20 {
		t.Errorf("stored is %+v on %+v", v, route)
	}
	fold, _ := route.Step(40)
	if len(fold.Checks) != 1 || *fold.Checks[0].Lower != 29.5 || *fold.Checks[0].Upper != 30.5 || fold.Checks[0].Instrument != "caliper" {
		t.Errorf("the fold is checked for %+v", fold.Checks)
	}
	if found := core.Walk(book, v.ItemRev); len(found) > 0 {
		t.Errorf("what is stored can't be worked: %+v", found)
	}

	// Edges as cut on a bare part: the final check asks for the label by itself.
	bare := panel()
	for k := range bare {
		if strings.Contains(k, ".") {
			delete(bare, k)
		}
	}
	for k, x := range map[string]string{"item": "Q-3", "finish": "bare", "edges": "as-cut", "do": "propose"} {
		bare.Set(k, x)
	}
	got = b.form("/setup/item", bare)
	if strings.Contains(got.body, `value="edge-round" checked`) || !strings.Contains(got.body, "Check the finished parts, 1 check") {
		t.Errorf("edges as cut: %s", got.body)
	}
}
