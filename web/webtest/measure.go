package webtest

import (
	"context"
	"testing"

	"github.com/chromedp/chromedp"

	"tagalong/internal/browsertest"
)

// Measured is what a tablet's page comes to, in CSS pixels.
type Measured struct {
	Scrolls bool
	Cut     []string // reaches out of the window, or is cut off without an ellipsis
	Small   []string // touch targets under 48 px
	Main    []string // main buttons under 64 px high
	Fine    []string // capitals lower than 2.8 mm
	Glance  []string // what is read at a glance, lower than 3.8 mm
	Faint   []string // text of less contrast than 7:1 (main) or 4.5:1
	Texts   int
}

// measure looks at what is shown: the open panel if there is one, else the page.
//
// A 10.1-inch panel of 1280 × 800 has 5.88 px/mm; capitals of B612 are 0.75 em
// high (the font's own table). The heights are those of 22 and 16 minutes of
// arc at 60 cm (ISO 9241-303). Contrast is WCAG 2.2's: relative luminance, and
// (L1 + 0.05) / (L2 + 0.05).
const measure = `(() => {
	const pxPerMM = Math.hypot(1280, 800) / (10.1 * 25.4), capital = 0.75;
	const fine = 2.8 * pxPerMM - 0.05, glance = 3.8 * pxPerMM - 0.05;
	const panel = document.querySelector("dialog[open]");
	const roots = panel ? [panel] : [...document.body.children].filter(e => e.tagName !== "DIALOG");
	const all = roots.flatMap(r => [r, ...r.querySelectorAll("*")]);
	const shown = e => e.checkVisibility({checkOpacity: true, checkVisibilityCSS: true}) && !e.closest(".unseen, dialog:not([open])") && (e.getClientRects().length > 0);
	const name = e => e.tagName.toLowerCase() + (e.id ? "#" + e.id : "") + (e.className && typeof e.className === "string" ? "." + e.className.trim().replace(/\s+/g, ".") : "") + " “" + (e.innerText ?? e.value ?? "").trim().slice(0, 40) + "”";
	const own = e => [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim() !== "");
	const rgb = s => { const m = s.match(/[\d.]+/g).map(Number); return s.startsWith("color(srgb") ? {c: m.slice(0, 3).map(v => v * 255), a: m[3] ?? 1} : {c: m.slice(0, 3), a: m[3] ?? 1}; };
	const lum = c => { const [r, g, b] = c.map(v => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; }); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
	const behind = e => { for (; e; e = e.parentElement) { const b = rgb(getComputedStyle(e).backgroundColor); if (b.a > 0.99) return b.c; } return [255, 255, 255]; };
	const out = {Scrolls: document.documentElement.scrollHeight > innerHeight || document.documentElement.scrollWidth > innerWidth || (panel?.scrollHeight ?? 0) > (panel?.clientHeight ?? 1) + 1, Cut: [], Small: [], Main: [], Fine: [], Glance: [], Faint: [], Texts: 0};
	for (const e of all) {
		if (!shown(e)) continue;
		const s = getComputedStyle(e), b = e.getBoundingClientRect();
		if (e.matches("button, a[href], input, select, textarea, summary")) {
			const t = (e.closest("label") ?? e).getBoundingClientRect();
			if (Math.max(t.height, b.height) < 47.5 || Math.max(t.width, b.width) < 47.5) out.Small.push(name(e) + " " + Math.round(t.width) + "×" + Math.round(t.height));
			if (e.matches(".main") && b.height < 64) out.Main.push(name(e));
			if (b.right > innerWidth + 1 || b.bottom > innerHeight + 1 || b.left < -1) out.Cut.push(name(e));
		}
		if (!own(e)) continue;
		out.Texts++;
		if (b.right > innerWidth + 1 || b.bottom > innerHeight + 1) out.Cut.push(name(e));
		if (e.scrollWidth > e.clientWidth + 1 && s.overflowX === "hidden" && s.textOverflow !== "ellipsis") out.Cut.push(name(e) + " (cut)");
		const px = parseFloat(s.fontSize) * capital;
		if (px < fine) out.Fine.push(name(e) + " " + px.toFixed(1) + " px");
		if (e.matches("h1, .main, .figure, .block .station, .card.big .lead") && px < glance && !e.matches(".plain")) out.Glance.push(name(e) + " " + px.toFixed(1) + " px");
		const l = [lum(rgb(s.color).c), lum(behind(e))].sort((x, y) => y - x), ratio = (l[0] + 0.05) / (l[1] + 0.05);
		if (ratio < (e.matches(".soft, label, th, legend, .which, h2") ? 4.5 : 7) && !e.disabled) out.Faint.push(name(e) + " " + ratio.toFixed(2));
	}
	return out;
})()`

// CheckTablet fails the test with whatever a page shown at 1280 × 800 on a
// tablet lacks: it must not scroll, must be read at 60 cm and touched in gloves.
func CheckTablet(t testing.TB, ctx context.Context, name string) {
	t.Helper()
	m := MeasureTablet(t, ctx)
	if m.Texts < 5 {
		t.Errorf("%s: only %d texts were found to measure", name, m.Texts)
	}
	if m.Scrolls {
		t.Errorf("%s scrolls", name)
	}
	for what, list := range map[string][]string{
		"is cut off": m.Cut, "is a touch target under 48 px": m.Small, "is a main button under 64 px": m.Main,
		"has capitals under 2.8 mm": m.Fine, "is read at a glance with capitals under 3.8 mm": m.Glance, "lacks contrast": m.Faint,
	} {
		for _, e := range list {
			t.Errorf("%s: %s %s", name, e, what)
		}
	}
}

// MeasureTablet measures the page as it stands.
func MeasureTablet(t testing.TB, ctx context.Context) Measured {
	t.Helper()
	return browsertest.Run(t, ctx, chromedp.Evaluate[Measured](measure))
}
