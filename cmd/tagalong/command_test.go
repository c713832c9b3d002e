package main

import (
	"crypto/rand"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
	"tagalong/web/server"
)

// hold is a signed command that needs nothing made before.
var hold = core.PlaceHold{Scope: core.HoldHeat, Ref: "H5-20881", Reason: "certificate in doubt"}

const inspector, quality = "P18", "P03"

func TestSignedCommandIsRecordedOnce(t *testing.T) {
	s := newShop(t)
	tablet, badge := s.tablet("INSPECT-1"), s.badge(inspector)
	req := s.request(hold).signed(badge)
	first := tablet.post("place-hold", req)
	if first.StatusCode != http.StatusOK {
		t.Fatalf("%d %s", first.StatusCode, first.body)
	}
	a := decoded[server.Answer](t, first)
	if a.Again || len(a.Events) != 1 || a.Events[0].Kind != core.EvHeld {
		t.Fatalf("the first answer: %s", first.body)
	}
	if got := a.Events[0].Signed; len(got) != 1 || got[0].Person != inspector || got[0].Meaning != core.MeantInspected || got[0].Tablet == "" {
		t.Errorf("signed %+v", got)
	}
	if strings.Contains(first.body, "effects") || strings.Contains(first.body, "holdPut") {
		t.Error("the browser is sent effects")
	}
	again := decoded[server.Answer](t, tablet.post("place-hold", req))
	if !again.Again || len(again.Events) != 1 || again.Events[0].Seq != a.Events[0].Seq {
		t.Errorf("sent again: %+v, want the first answer", again)
	}
	holds, err := s.store.OpenHolds(t.Context())
	must(t, err)
	if len(holds) != 1 {
		t.Errorf("%d holds from one command", len(holds))
	}
}

// TestClockAhead: nothing is signed in the future; sent again it is still the
// same command.
func TestClockAhead(t *testing.T) {
	s := newShop(t)
	tablet := s.tablet("INSPECT-1")
	req := s.request(hold).with("happened", s.clock().Add(2*time.Hour).Format(time.RFC3339)).signed(s.badge(inspector))
	a := decoded[server.Answer](t, tablet.post("place-hold", req))
	if len(a.Events) != 1 || !a.Events[0].Happened.Equal(s.clock()) || !a.Events[0].Signed[0].At.Equal(s.clock()) {
		t.Errorf("recorded as %+v, now is %v", a.Events, s.clock())
	}
	s.pass(time.Second)
	if again := decoded[server.Answer](t, tablet.post("place-hold", req)); !again.Again {
		t.Error("sent again it is another command")
	}
}

func TestSameIdOtherBody(t *testing.T) {
	s := newShop(t)
	tablet, badge := s.tablet("INSPECT-1"), s.badge(inspector)
	req := s.request(hold).signed(badge)
	tablet.post("place-hold", req)
	other := hold
	other.Reason = "something else"
	tablet.refused("place-hold", req.with("body", other), http.StatusConflict, "id-used")
	req.with("body", hold).signed(s.badge(quality))
	tablet.refused("place-hold", req, http.StatusConflict, "id-used")
}

func TestWrongPINDoesNotUseTheIdUp(t *testing.T) {
	s := newShop(t)
	tablet, badge := s.tablet("INSPECT-1"), s.badge(inspector)
	req := s.request(hold).with("sign", []app.Sign{{Badge: badge, PIN: "111112"}})
	p := tablet.refused("place-hold", req, http.StatusForbidden, "pin-wrong")
	if p.Params["person"] != "Rafe Tolliver" || !strings.Contains(p.Remedy, "You can try again at once.") {
		t.Errorf("said %q %q", p.Title, p.Remedy)
	}
	if got := tablet.post("place-hold", req.signed(badge)); got.StatusCode != http.StatusOK || decoded[server.Answer](t, got).Again {
		t.Errorf("with the right PIN under the same id: %d %s", got.StatusCode, got.body)
	}
	if got := s.refusalCodes(); got != "pin-wrong/place-hold/INSPECT-1/P18" {
		t.Errorf("on record: %s", got)
	}
	// What is refused before the rules are asked is told of the pallet it was about.
	pallet, err := code.New(code.Pallet, rand.Reader)
	must(t, err)
	held := core.PlaceHold{Scope: core.HoldPallet, Ref: string(pallet), Reason: "certificate in doubt"}
	tablet.refused("place-hold", s.request(held).with("sign", []app.Sign{{Badge: badge, PIN: "111112"}}), http.StatusForbidden, "pin-wrong")
	if of, err := s.store.Refusals(t.Context(), app.RefusalQuery{Pallet: core.PalletCode(pallet), Limit: 9}); err != nil || len(of) != 1 {
		t.Errorf("refusals about the pallet: %+v, %v", of, err)
	}
}

func TestWrongPINsWait(t *testing.T) {
	s := newShop(t)
	tablet, badge := s.tablet("INSPECT-1"), s.badge(inspector)
	wrong := s.request(hold).with("sign", []app.Sign{{Badge: badge, PIN: "111112"}})
	for range 4 {
		tablet.refused("place-hold", wrong, http.StatusForbidden, "pin-wrong")
	}
	if p := tablet.refused("place-hold", wrong, http.StatusForbidden, "pin-wrong"); !strings.Contains(p.Remedy, "Wait 1 minute") {
		t.Errorf("the fifth wrong PIN says %q", p.Remedy)
	}
	got := tablet.post("place-hold", s.request(hold).signed(badge))
	if got.StatusCode != http.StatusTooManyRequests || got.problem(t).Code != "pin-wait" {
		t.Fatalf("the right PIN while waiting: %d %s", got.StatusCode, got.body)
	}
	if after, err := strconv.Atoi(got.Header.Get("Retry-After")); err != nil || after < 1 || after > 60 {
		t.Errorf("Retry-After %q", got.Header.Get("Retry-After"))
	}
	s.pass(61 * time.Second)
	if got := tablet.post("place-hold", s.request(hold).signed(badge)); got.StatusCode != http.StatusOK {
		t.Errorf("after the wait: %d %s", got.StatusCode, got.body)
	}
}

// TestTabletWaitsForTriesAtManyBadges: going from badge to badge doesn't help.
func TestTabletWaitsForTriesAtManyBadges(t *testing.T) {
	s := newShop(t)
	tablet := s.tablet("INSPECT-1")
	var last string
	for _, p := range []core.PersonID{"P18", "P19", "P03"} {
		last = s.badge(p)
		for range 4 {
			got := tablet.post("place-hold", s.request(hold).with("sign", []app.Sign{{Badge: last, PIN: "111112"}}))
			if code := got.problem(t).Code; code == "tablet-wait" {
				return
			} else if code != "pin-wrong" {
				t.Fatalf("got %s", got.body)
			}
		}
	}
	t.Error("twelve wrong PINs at three badges and the tablet still lets one try")
}

func TestWhoMayNotSign(t *testing.T) {
	s := newShop(t)
	tablet := s.tablet("INSPECT-1")
	old := s.badge(inspector)
	s.badge(inspector) // ends the one before
	gone := s.badge("P19")
	must(t, s.change("P19", func(p *core.Person) { p.Left = true }))
	noPIN, _, err := s.app.IssueBadge(t.Context(), app.Machine(), "P17")
	must(t, err)
	ended := s.badge(quality)
	must(t, s.app.RevokeBadge(t.Context(), app.Machine(), quality))

	for name, x := range map[string]struct {
		sign   []app.Sign
		status int
		code   string
	}{
		"nobody":          {nil, http.StatusUnprocessableEntity, "not-signed"},
		"no badge at all": {[]app.Sign{{Badge: "P4K7M2QX", PIN: pin}}, http.StatusUnprocessableEntity, "badge-unreadable"},
		"unknown badge":   {[]app.Sign{{Badge: "BDG" + strings.Repeat("B", 32), PIN: pin}}, http.StatusForbidden, "badge-unknown"},
		"replaced badge":  {[]app.Sign{{Badge: old, PIN: pin}}, http.StatusForbidden, "badge-revoked"},
		"ended badge":     {[]app.Sign{{Badge: ended, PIN: pin}}, http.StatusForbidden, "badge-revoked"},
		"has left":        {[]app.Sign{{Badge: gone, PIN: pin}}, http.StatusForbidden, "signer-left"},
		"no PIN":          {[]app.Sign{{Badge: noPIN.Text(), PIN: pin}}, http.StatusForbidden, "pin-not-set"},
		"half a PIN":      {[]app.Sign{{Badge: s.badge("P20"), PIN: "123"}}, http.StatusUnprocessableEntity, "pin-shape"},
		"no such role":    {[]app.Sign{{Badge: s.badge("P10"), PIN: pin}}, http.StatusForbidden, "role-lacking"},
		"somebody else's": {[]app.Sign{{Person: "P18", PIN: pin}}, http.StatusUnprocessableEntity, "badge-unreadable"},
	} {
		t.Run(name, func(t *testing.T) {
			tablet.refused("place-hold", s.request(hold).with("sign", x.sign), x.status, x.code)
		})
	}
	holds, err := s.store.OpenHolds(t.Context())
	must(t, err)
	if len(holds) != 0 {
		t.Errorf("%d holds were placed all the same", len(holds))
	}
}

func (s *testShop) change(id core.PersonID, f func(*core.Person)) error {
	book, err := s.app.Book(s.t.Context())
	must(s.t, err)
	p := book.People[id]
	f(&p)
	_, _, err = s.store.SaveBook(s.t.Context(), "", "test", app.BookRows{People: []core.Person{p}})
	return err
}

func TestSamePersonTwiceIsOne(t *testing.T) {
	s := newShop(t)
	badge := s.badge(quality)
	s.tablet("INSPECT-1").refused("place-hold", s.request(hold).signed(badge, badge), http.StatusUnprocessableEntity, "signed-twice")
}

func TestTabletsNotEnrolled(t *testing.T) {
	s := newShop(t)
	badge := s.badge(inspector)
	s.browser().refused("place-hold", s.request(hold).signed(badge), http.StatusUnauthorized, "unenrolled-tablet")
	s.browser().refused("take-in", s.request(core.TakeIn{Pallet: "P4K7M2QX"}), http.StatusUnauthorized, "unenrolled-tablet")

	tablet := s.tablet("INSPECT-1")
	all, err := s.app.Tablets(t.Context(), app.Machine())
	must(t, err)
	must(t, s.app.RevokeTablet(t.Context(), app.Machine(), all[0].ID))
	tablet.refused("place-hold", s.request(hold).signed(badge), http.StatusUnauthorized, "tablet-revoked")
}

func TestLoadingIsDoneAtADock(t *testing.T) {
	s := newShop(t)
	load := core.Load{Site: "SITE-LARKFIELD", Day: "2026-12-03", Pallets: []core.PalletCode{freshCode(t)}}
	s.tablet("STORE-1").refused("load", s.request(load), http.StatusForbidden, "needs-dock")
	s.tablet("DOCK-1").refused("load", s.request(load), http.StatusNotFound, "pallet-unknown")
}

// TestOfficeSigns: a person signed in signs with the PIN alone, as their badge
// opened the session, and for nobody else.
func TestOfficeSigns(t *testing.T) {
	s := newShop(t)
	desk := s.signedIn(quality)
	got := desk.post("place-hold", s.request(hold).with("sign", []app.Sign{{Person: quality, PIN: pin}}))
	if got.StatusCode != http.StatusOK {
		t.Errorf("%d %s", got.StatusCode, got.body)
	}
	s.badge(inspector)
	desk.refused("place-hold", s.request(hold).with("sign", []app.Sign{{Person: inspector, PIN: pin}}),
		http.StatusUnprocessableEntity, "badge-unreadable")
	desk.refused("take-in", s.request(core.TakeIn{Pallet: "P4K7M2QX"}), http.StatusForbidden, "needs-tablet")
	if !strings.HasPrefix(s.refusalCodes(), "needs-tablet/take-in//P03") {
		t.Errorf("on record: %s", s.refusalCodes())
	}
}

func TestCodesThatCannotBe(t *testing.T) {
	s := newShop(t)
	tablet := s.tablet("STORE-1")
	for name, x := range map[string]struct {
		pallet core.PalletCode
		status int
		code   string
	}{
		"never printed": {freshCode(t), http.StatusNotFound, "pallet-unknown"},
		"mistyped":      {"P4K7M2Q8", http.StatusUnprocessableEntity, "code-mistyped"},
		"look-alike":    {"P4K7M2Q0", http.StatusUnprocessableEntity, "code-mistyped"},
		"an EAN":        {"4006381333931", http.StatusUnprocessableEntity, "code-foreign"},
		"an address":    {"https://example.com/x", http.StatusUnprocessableEntity, "code-foreign"},
		"a unit build":  {core.PalletCode(newCode(t, 'U')), http.StatusUnprocessableEntity, "code-wrong-kind"},
		"not as stored": {core.PalletCode(strings.ToLower(string(freshCode(t)))), http.StatusUnprocessableEntity, "bad-value"},
	} {
		t.Run(name, func(t *testing.T) {
			tablet.refused("take-in", s.request(core.TakeIn{Pallet: x.pallet}), x.status, x.code)
		})
	}
}

func TestRequestsThatCannotBeRead(t *testing.T) {
	s := newShop(t)
	tablet := s.tablet("STORE-1")
	good := s.request(core.TakeIn{Pallet: freshCode(t)})
	text, err := json.Marshal(good)
	must(t, err)
	for name, x := range map[string]struct {
		body   string
		status int
		code   string
		says   string
	}{
		"nothing":         {"", http.StatusBadRequest, "malformed", "ends too early"},
		"half of it":      {string(text[:len(text)/2]), http.StatusBadRequest, "malformed", ""},
		"two":             {string(text) + string(text), http.StatusBadRequest, "malformed", "follows the end"},
		"unknown field":   {strings.Replace(string(text), `{"body"`, `{"colour":"red","body"`, 1), http.StatusUnprocessableEntity, "unknown-field", "colour"},
		"unknown inside":  {strings.Replace(string(text), `"pallet"`, `"palette"`, 1), http.StatusUnprocessableEntity, "unknown-field", "palette"},
		"number for text": {strings.Replace(string(text), `"pallet":"`, `"slot":5,"pallet":"`, 1), http.StatusUnprocessableEntity, "bad-value", "slot"},
		"no UUID":         {`{"id":"7","happened":"2026-11-25T14:12:07Z","body":{"pallet":"x"}}`, http.StatusUnprocessableEntity, "bad-value", "UUID"},
		"no time":         {`{"id":"0b7f7a52-6f0e-4d0e-9a57-1f7d1c1f6a10","body":{}}`, http.StatusUnprocessableEntity, "bad-value", "happened"},
		"no body":         {`{"id":"0b7f7a52-6f0e-4d0e-9a57-1f7d1c1f6a10","happened":"2026-11-25T14:12:07Z"}`, http.StatusUnprocessableEntity, "bad-value", "body"},
		"a NUL":           {strings.Replace(string(text), `"pallet":"`, `"slot":"a\u0000b","pallet":"`, 1), http.StatusBadRequest, "malformed", "NUL"},
		"too large":       {`{"id":"` + strings.Repeat("x", app.MaxRequest) + `"}`, http.StatusRequestEntityTooLarge, "too-large", "64 KiB"},
	} {
		t.Run(name, func(t *testing.T) {
			got := tablet.send(http.MethodPost, "/api/commands/take-in", "application/json", strings.NewReader(x.body))
			p := got.problem(t)
			if got.StatusCode != x.status || p.Code != x.code || !strings.Contains(p.Title, x.says) {
				t.Errorf("%d %s %q, want %d %s with %q", got.StatusCode, p.Code, p.Title, x.status, x.code, x.says)
			}
		})
	}
	tablet.refused("fly", good, http.StatusNotFound, "kind-unknown")
	tablet.refused("take-in", s.request(core.TakeIn{Pallet: freshCode(t)}).with("seal", "AAAA"), http.StatusUnprocessableEntity, "seal-not-taken")
}

// TestOneBadgeDoesNotLockTheOffice: all office browsers are one place to the
// limits, so somebody's wrong PINs there make nobody else wait.
func TestOneBadgeDoesNotLockTheOffice(t *testing.T) {
	s := newShop(t)
	badge, desk := s.badge(inspector), s.signedIn(quality)
	for range 15 {
		got := s.browser().form("/signin", url.Values{"badge": {badge}, "pin": {"111112"}})
		if got.StatusCode == http.StatusTooManyRequests {
			s.pass(time.Hour)
		} else if got.StatusCode != http.StatusForbidden {
			t.Fatalf("a wrong PIN: %d", got.StatusCode)
		}
	}
	if got := desk.post("place-hold", s.request(hold).with("sign", []app.Sign{{Person: quality, PIN: pin}})); got.StatusCode != http.StatusOK {
		t.Errorf("somebody else at a desk: %d %s", got.StatusCode, got.body)
	}
}

// TestManyAtOnce: one command sent many times at the same moment is recorded
// once, and every sender gets its answer.
func TestManyAtOnce(t *testing.T) {
	s := newShop(t)
	tablet := s.tablet("INSPECT-1")
	req := s.request(hold).signed(s.badge(inspector))
	answers := make(chan answer, 12)
	for range cap(answers) {
		go func() { answers <- tablet.post("place-hold", req) }()
	}
	first := 0
	for range cap(answers) {
		got := <-answers
		if got.StatusCode != http.StatusOK {
			t.Errorf("%d %s", got.StatusCode, got.body)
			continue
		}
		if !decoded[server.Answer](t, got).Again {
			first++
		}
	}
	holds, err := s.store.OpenHolds(t.Context())
	must(t, err)
	if first != 1 || len(holds) != 1 {
		t.Errorf("%d first answers and %d holds, want one of each", first, len(holds))
	}
}

// TestManyWrongPINsAtOnce: guessing in parallel gets no more tries than
// guessing one after the other.
func TestManyWrongPINsAtOnce(t *testing.T) {
	s := newShop(t)
	tablet, badge := s.tablet("INSPECT-1"), s.badge(inspector)
	codes := make(chan string, 20)
	for i := range cap(codes) {
		go func() {
			wrong := fmt.Sprintf("%06d", 100300+7*i)
			codes <- tablet.post("place-hold", s.request(hold).with("sign", []app.Sign{{Badge: badge, PIN: wrong}})).problem(t).Code
		}()
	}
	counts := map[string]int{}
	for range cap(codes) {
		counts[<-codes]++
	}
	if counts["pin-wrong"] != 5 || counts["pin-wait"] != 15 {
		t.Errorf("answers %v, want five looked at and fifteen told to wait", counts)
	}
}
