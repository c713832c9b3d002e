package main

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"tagalong/internal/browsertest"
)

// desk is a visitor at the demo's desk, in a browser of their own.
type desk struct {
	t    *testing.T
	ctx  context.Context
	base string

	other context.Context // another visitor's browser
	note  string          // the code that the row of the try just begun names
}

func (d *desk) open(path string) {
	d.t.Helper()
	browsertest.Do(d.t, d.ctx, chromedp.Navigate(d.base+path))
	d.until("the page "+path, `document.readyState === "complete"`)
}

// until waits for an expression to be true, over pages that come and go.
func (d *desk) until(what, expression string) {
	d.t.Helper()
	limit, cancel := context.WithTimeout(d.ctx, browsertest.Patience)
	defer cancel()
	for {
		if yes, err := chromedp.Run(limit, chromedp.Evaluate[bool]("!!("+expression+")")); err == nil && yes {
			return
		}
		select {
		case <-limit.Done():
			said, err := chromedp.Run(d.ctx, chromedp.Evaluate[string](seen))
			d.t.Fatalf("waited in vain for %s (%v):\n%s", what, err, said)
		case <-time.After(15 * time.Millisecond):
		}
	}
}

// seen is all text that can be seen, dialogs too.
const seen = `(location.pathname + " " + document.body.innerText + " " +
	[...document.querySelectorAll("dialog[open]")].map(d => d.innerText).join(" ")).replace(/\s+/g, " ")`

func (d *desk) sees(text string) {
	d.t.Helper()
	d.until(fmt.Sprintf("%q", text), seen+`.includes(`+fmt.Sprintf("%q", text)+`)`)
}

// presses clicks the first visible element of a selector, as soon as its page is
// ready: found and clicked in one, since pages come and go.
func (d *desk) presses(css string) {
	d.t.Helper()
	d.until(css, `document.readyState === "complete" && (e => e && (e.click(), true))(
		[...document.querySelectorAll(`+fmt.Sprintf("%q", css)+`)].find(e => e.checkVisibility()))`)
}

func (d *desk) types(css, text string) {
	d.t.Helper()
	browsertest.Do(d.t, d.ctx, chromedp.SendKeys(chromedp.CSS(css), text, chromedp.NodeVisible))
}

func (d *desk) has(expression string) bool {
	d.t.Helper()
	return browsertest.Run(d.t, d.ctx, chromedp.Evaluate[bool]("!!("+expression+")"))
}

// begins goes to the desk and presses a try's button; false where there is none
// just now.
func (d *desk) begins(key string) bool {
	d.t.Helper()
	d.open("/demo")
	row := `[data-try=` + key + `]`
	if !d.has(`document.querySelector("` + row + ` button")`) {
		d.sees("None just now")
		return false
	}
	d.note = browsertest.Run(d.t, d.ctx, chromedp.Evaluate[string](`document.querySelector("`+row+` code")?.textContent.replace(/\s/g, "") ?? ""`))
	d.presses(row + " button")
	d.until("the page of "+key, `location.pathname !== "/demo" && document.readyState === "complete"`)
	return true
}

// measured is a reading that is inside its limits, by characteristic.
var measured = map[string]string{"throat": "3", "angle": "90", "flange": "30", "film-thickness": "80"}

// ready goes through the faces of a work page up to the signing panel, with
// readings of its own for some characteristics.
func (d *desk) ready(readings map[string]string) {
	d.t.Helper()
	for range 60 {
		for d.has(unread) {
			check := browsertest.Run(d.t, d.ctx, chromedp.Evaluate[string](`(e => e.querySelector("[name$=characteristic]").value)(`+unread+`)`))
			value, ok := readings[check]
			if !ok {
				value, ok = measured[check]
			}
			if !ok {
				d.t.Fatalf("the page asks for %q, which nobody has measured", check)
			}
			browsertest.Do(d.t, d.ctx, chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`(e => {
				const g = e.querySelector("[data-gauge]:not([disabled])");
				if (g && g.tagName === "SELECT") { g.value = [...g.options].find(o => o.value && !o.text.includes("overdue")).value; g.dispatchEvent(new Event("change", {bubbles: true})); }
				const n = e.querySelector("[data-number]");
				n.value = %q; n.dispatchEvent(new Event("input", {bubbles: true})); n.dispatchEvent(new Event("change", {bubbles: true}));
			})(%s)`, value, unread)))
			if readings[check] != "" {
				return
			}
		}
		browsertest.Do(d.t, d.ctx, chromedp.Evaluate[chromedp.Void](`[...document.querySelectorAll("[data-sample]")]
			.filter(e => e.checkVisibility() && !e.querySelector("input:checked")).forEach(e => e.querySelector("input").click())`))
		d.presses("[data-go]")
		if d.has(`document.querySelector("#sign").open`) {
			return
		}
	}
	d.t.Fatalf("the work page never came to the signature:\n%s", browsertest.Run(d.t, d.ctx, chromedp.Evaluate[string](seen)))
}

// unread is the first measurement on the face that is seen without a reading.
const unread = `[...document.querySelectorAll(".face:not([hidden]) [data-measure]")].find(e => e.checkVisibility() && !e.querySelector("[data-number]").value)`

// signs lets the page fill the badge and the PIN in, and signs.
func (d *desk) signs() {
	d.t.Helper()
	d.presses("[data-demo-hand]")
	d.presses("#sign-form button[type=submit]")
}

// plays are the list's entries, each played to what it says comes of it.
var plays = map[string]func(*desk){
	"release": func(d *desk) {
		d.ready(nil)
		d.signs()
		d.sees("Inspect the welds: signed")
	},
	"maker": func(d *desk) {
		d.ready(nil)
		d.signs()
		d.sees("may not release")
	},
	"hold": func(d *desk) {
		d.sees("waits for a release: nobody may pass this hold point before an inspector has released it.")
	},
	"station": func(d *desk) {
		d.sees("has nothing to do for pallet")
		d.sees("it waits for “Fold”")
	},
	"edges": func(d *desk) {
		d.sees("Spray booth 1 has nothing to do for pallet")
		d.sees("it waits for “Round the edges”")
	},
	"belts": func(d *desk) {
		d.sees("BELT-SS-1 has touched stainless; it may never touch aluminium.")
		d.presses(`form[data-command="take-in"] button`)
		d.sees("The station lead. No concession exists for this rule.")
	},
	"held": func(d *desk) {
		d.sees("lifting eye plates are held: thread gauge found worn")
		d.sees("Quality")
	},
	"lost": func(d *desk) {
		d.ready(nil)
		d.signs()
		d.sees("This badge of Avis Candlin is no longer good.")
	},
	"pin": func(d *desk) {
		d.ready(nil)
		d.signs()
		d.sees("not the PIN of Rafe Tolliver")
	},
	"mistyped": func(d *desk) {
		d.sees("Here, oldest promise first")
		d.types("[data-scan]", d.note+"\r")
		d.sees("can't be read as one of our codes: a symbol is wrong, or two changed places.")
	},
	"stale": func(d *desk) {
		d.sees("This ticket is out of date: it is print 1, and the pallet has changed since.")
	},
	"two": func(d *desk) {
		path := browsertest.Run(d.t, d.ctx, chromedp.Evaluate[string]("location.pathname"))
		at := browsertest.Text(d.t, d.ctx, "header.block .station")
		d.prints()
		d.until("the print", `location.pathname !== "`+path+`" || document.querySelector("[data-done-line]")?.checkVisibility()`)
		second := &desk{t: d.t, ctx: d.other, base: d.base}
		second.open("/demo")
		browsertest.Do(d.t, second.ctx, chromedp.Evaluate[chromedp.Void](`(s => {
			s.value = [...s.options].find(o => o.text.toLowerCase() === `+fmt.Sprintf("%q", strings.ToLower(at))+`).value;
		})(document.querySelector("[data-anybody] select[name=station]"))`))
		second.presses("[data-anybody] button")
		second.until("a tablet", `location.pathname === "/station"`)
		second.open(path)
		second.prints()
		second.sees("Another visitor of this demo is trying out pallet")
	},
	"fold": func(d *desk) {
		d.ready(nil)
		d.signs()
		d.sees("Fold: signed")
	},
	"coat": func(d *desk) {
		d.ready(map[string]string{"film-thickness": "41"})
		d.sees("Outside: count the bad ones")
		browsertest.Do(d.t, d.ctx, chromedp.Evaluate[chromedp.Void](`document.querySelectorAll(".face:not([hidden]) [data-number]").forEach(e => {
			if (e.value === "41") { e.value = ""; e.dispatchEvent(new Event("input", {bubbles: true})); }
		})`))
		d.ready(nil)
		d.signs()
		d.sees("Inspect the coat: signed")
	},
	"separate": func(d *desk) {
		d.presses("main a.card.big")
		d.presses(`a[href$="nest=N-7004"]`)
		d.until("the nest", `document.querySelector("select[data-to]")`)
		browsertest.Do(d.t, d.ctx, chromedp.Evaluate[chromedp.Void](`document.querySelectorAll("select[data-to]").forEach(e => {
			e.value = "new:A"; e.dispatchEvent(new Event("change", {bubbles: true}));
		})`))
		d.presses("[data-go]")
		d.presses("[data-go]")
		d.signs()
		d.sees("is broken out")
	},
	"unit": func(d *desk) {
		d.presses(".rest-coming a.card")
		d.sees("wall stiffener")
	},
	"truck": func(d *desk) {
		d.presses(`a[href^="/dock?truck="]`)
		d.sees("The customer agrees to a part shipment.")
		d.types(`form[data-command="ship"] input[name=vehicle]`, "LARK 007")
		d.presses(`form[data-command="ship"] input[name=handedTo]`)
		d.presses(`form[data-command="ship"] button[type=submit]`)
		d.signs()
		d.sees("Gone")
	},
	"receive": func(d *desk) {
		d.presses(`a[href^="/site?truck="]`)
		d.sees("to count")
		d.presses(`.boxes a.box`)
		d.presses(`form[data-box] button[type=submit]`)
		d.signs()
		d.sees("All of it is counted.")
	},
	"dispose": func(d *desk) {
		d.presses("summary")
		d.presses(`form[data-command="dispose"] label:has(input[value=remake])`)
		d.types(`details[open] form[data-command="dispose"] input[name=reason]`, "too deep to put right")
		d.presses(`details[open] form[data-command="dispose"] button[type=submit]`)
		d.signs()
		d.sees("Decided")
	},
	"where": func(d *desk) {
		d.sees("Order O-4101 for Brackenmoor Hospital Estates")
		d.sees("late")
	},
	"proof": func(d *desk) {
		d.sees("History of order O-4096")
		d.sees("Weld")
	},
}

// prints prints the traveller of the page's pallet again.
func (d *desk) prints() {
	d.t.Helper()
	d.presses(`main [data-open="more"]`)
	d.presses(`#more form[data-command="print-traveller"] button`)
}

// TestDemoDesk plays everything the demo's desk proposes, in the order of the
// page, to what it says comes of it.
func TestDemoDesk(t *testing.T) {
	l := demoLine(t)
	base := demoServer(t, l)
	chromium := browsertest.Shared(t)
	d := &desk{t: t, ctx: chromium.Open(t, browsertest.Tablet), base: base, other: chromium.Open(t, browsertest.Tablet)}
	d.open("/demo")
	d.presses(`button[name=work][value=no]`)
	d.sees("The shop's people rest")
	keys := strings.Fields(browsertest.Run(t, d.ctx, chromedp.Evaluate[string](`[...document.querySelectorAll("[data-try]")].map(e => e.dataset.try).join(" ")`)))
	var later []string
	for _, key := range keys {
		if plays[key] == nil {
			t.Errorf("nobody plays %q", key)
			continue
		}
		if !d.begins(key) {
			later = append(later, key)
			continue
		}
		t.Log(key)
		plays[key](d)
	}
	for _, key := range later { // what an earlier one makes possible
		if !d.begins(key) {
			t.Errorf("there never was anything for %q", key)
			continue
		}
		plays[key](d)
	}
	if out := l.ok("verify"); !strings.Contains(out, "; 0 faults") {
		t.Error(out)
	}
}
