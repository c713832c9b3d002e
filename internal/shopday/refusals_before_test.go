package shopday

import (
	"crypto/rand"
	"net/http"
	"strings"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/code"
	"tagalong/internal/core"
)

// TestCodesRefused: a code nobody printed, one with a slip, and somebody else's.
func TestCodesRefused(t *testing.T) {
	s := open(t)
	bench := s.at("BENCH-1")
	fresh, err := code.New(code.Pallet, rand.Reader)
	must(t, err)
	unit, err := code.New(code.Unit, rand.Reader)
	must(t, err)
	unknown, sheet := string(fresh), string(s.sheet("SH-5005-3"))
	takes := func(text string) request { return s.asks(core.TakeIn{Pallet: core.PalletCode(text)}) }
	slip := slipped(t)
	again := "Nothing was recorded. Compare it with the ticket and type it again, or scan the QR symbol."
	foreign := "Nothing was recorded. Scan the QR symbol on our own ticket; our codes look like P4K7 M2QX."
	s.refuseAll(t, []no{{
		name: "unknown", from: bench, ask: takes(unknown), status: http.StatusNotFound, code: "pallet-unknown",
		says:   "No pallet " + code.Code(unknown).Spaced() + " was ever made.",
		remedy: "Nothing was recorded. Scan the code again, or type it from the ticket.",
	}, {
		name: "two symbols changed places", from: bench, ask: takes(slip), status: http.StatusUnprocessableEntity, code: "code-mistyped",
		says: "“" + slip + "” can't be read as one of our codes: a symbol is wrong, or two changed places.", remedy: again,
	}, {
		name: "a symbol too few", from: bench, ask: takes(sheet[:7]), status: http.StatusUnprocessableEntity, code: "code-mistyped",
		says: "“" + sheet[:7] + "” can't be read as one of our codes: it has 7 symbols and our codes have 8.", remedy: again,
	}, {
		name: "foreign", from: bench, ask: takes("4006381333931"), status: http.StatusUnprocessableEntity, code: "code-foreign",
		says: "“4006381333931” is not one of our codes.", remedy: foreign,
	}, {
		name: "of another kind", from: bench, ask: takes(string(unit)), status: http.StatusUnprocessableEntity, code: "code-wrong-kind",
		says:   unit.Spaced() + " is the code of a unit build, and a pallet or sheet or bar is needed here.",
		remedy: "Nothing was recorded. Scan the code on the pallet or sheet or bar.",
	}})
	if got := bench.send(http.MethodGet, "/api/pallets/"+unknown, "", ""); got.StatusCode != http.StatusNotFound || problem(t, got).Code != "code-unknown" {
		t.Errorf("looking an unknown code up: %d %s", got.StatusCode, got.body)
	}
}

// TestSignaturesRefused: PINs, badges and tablets that are not good.
func TestSignaturesRefused(t *testing.T) {
	s := open(t)
	bay := s.at("INSPECT-1")
	hold := core.PlaceHold{Scope: core.HoldHeat, Ref: "H5-20881", Reason: "certificate in doubt"}
	wrong := func() request {
		r := s.asks(hold, inspector)
		r.Sign[0].PIN = "730164"
		return r
	}
	first := wrong()
	x := no{
		name: "wrong PIN", from: bay, ask: first, status: http.StatusForbidden, code: "pin-wrong", person: inspector,
		says: "That is not the PIN of Rafe Tolliver.", remedy: "Nothing was signed. You can try again at once.",
	}
	s.refuseAll(t, []no{x})
	// The id is not used up: with the right PIN the same command goes through.
	first.Sign[0].PIN = pin
	bay.recorded(bay.post(first))

	for _, next := range []string{
		"You can try again at once.", "You can try again at once.", "You can try again at once.",
		"After one more wrong try there is a wait.", "Wait 1 minute before the next try.",
	} {
		x.ask, x.remedy = wrong(), "Nothing was signed. "+next
		s.refuse(t, x)
	}
	waits := s.asks(hold, inspector)
	waits.Body = core.PlaceHold{Scope: core.HoldHeat, Ref: "H5-20914", Reason: "certificate in doubt"}
	// The right PIN must wait as well.
	got := s.refuse(t, no{
		name: "throttled", from: bay, ask: waits, status: http.StatusTooManyRequests, code: "pin-wait", person: inspector,
		says:   "Too many wrong PINs for Rafe Tolliver; the next try can be made in 59 seconds.",
		remedy: "Nothing was signed. Wait 59 seconds, or have an admin make a one-time code and set a new PIN with it.",
	})
	if got.Header.Get("Retry-After") != "59" || problem(t, got).After != 59 {
		t.Errorf("Retry-After %q: %s", got.Header.Get("Retry-After"), got.body)
	}
	s.pass(2 * time.Minute)
	bay.recorded(bay.post(waits))

	old := s.badge("P19")
	s.issue("P19")
	replaced := s.asks(hold)
	replaced.Sign = []app.Sign{{Badge: old, PIN: pin}}
	ended := s.asks(hold, quality)
	must(t, s.app.RevokeBadge(t.Context(), app.Machine(), quality))
	stranger, lost := s.device(), s.enrolled("INSPECT-1")
	must(t, s.app.RevokeTablet(t.Context(), app.Machine(), s.newestTablet(t)))
	enrolIt := "Nothing was recorded. Have an admin make a one-time code, and enrol the device with it."
	newer := "Nothing was signed. Scan the newer badge, or have one printed."
	s.refuseAll(t, []no{{
		name: "replaced badge", from: bay, ask: replaced, status: http.StatusForbidden, code: "badge-revoked", person: "P19",
		says: "This badge of Dagny Whin is no longer good.", remedy: newer,
	}, {
		name: "revoked badge", from: bay, ask: ended, status: http.StatusForbidden, code: "badge-revoked", person: quality,
		says: "This badge of Ilse Marrable is no longer good.", remedy: newer,
	}, {
		name: "unenrolled tablet", from: stranger, ask: s.asks(hold, "P20"), status: http.StatusUnauthorized, code: "unenrolled-tablet",
		unknown: true, says: "This device is not enrolled to a station.", remedy: enrolIt,
	}, {
		name: "revoked tablet", from: lost, ask: s.asks(hold, "P20"), status: http.StatusUnauthorized, code: "tablet-revoked",
		unknown: true, says: "This tablet's enrolment was ended.",
		remedy: "Nothing was recorded. Have an admin make a one-time code, and enrol it again.",
	}})
}

func (s *shop) newestTablet(t *testing.T) core.TabletID {
	t.Helper()
	all, err := s.app.Tablets(t.Context(), app.Machine())
	must(t, err)
	return all[0].ID
}

// slipped is a code in which two neighbours changed places; one without Y and Z,
// which keyboards exchange: of those the shop guesses what the ticket says.
func slipped(t testing.TB) string {
	t.Helper()
	for {
		c, err := code.New(code.Pallet, rand.Reader)
		must(t, err)
		for i := 1; i < code.Length-1; i++ {
			if c[i] != c[i+1] && !strings.ContainsAny(string(c), "YZ") {
				return string(c[:i] + c[i+1:i+2] + c[i:i+1] + c[i+2:])
			}
		}
	}
}
