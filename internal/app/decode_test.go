package app

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"tagalong/internal/words"
)

// FuzzDecodeRequest: whatever comes is a refusal with words, or a request that
// reads the same when written out, and its body never stops the program.
func FuzzDecodeRequest(f *testing.F) {
	for _, p := range Commands {
		body, err := json.Marshal(p.Example)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(p.Kind(), []byte(`{"id":"0b7f7a52-6f0e-4d0e-9a57-1f7d1c1f6a10","happened":"2026-11-25T14:12:07Z","body":`+string(body)+`}`))
	}
	f.Add("take-in", []byte(`{"sign":[{"badge":"x","pin":"1","meaning":"made"}],"seal":null}`))
	f.Add("settle", []byte(`{"body":{"fact":"coated[","value":"perhaps"}}`))
	f.Add("begin", []byte(`[]`))
	f.Add("begin", []byte(`{"`+strings.Repeat("x", 2000)+`":1}`))
	f.Add("begin", []byte(`{"sequence":`+strings.Repeat("9", 2000)+`}`))
	f.Add("begin", []byte(`{"body":{"lots":{"0":1}}} {}`))
	f.Fuzz(func(t *testing.T, kind string, raw []byte) {
		req, err := DecodeRequest(bytes.NewReader(raw))
		if err != nil {
			checkWords(t, err)
			return
		}
		if len(raw) > MaxRequest {
			t.Fatalf("%d bytes were taken", len(raw))
		}
		text, err := json.Marshal(req)
		if err != nil {
			return // a time no JSON holds
		}
		if _, err := DecodeRequest(bytes.NewReader(text)); err != nil {
			t.Fatalf("%v when written out as %s", err, text)
		}
		policy, ok := PolicyOf(kind)
		if !ok || len(req.Body) == 0 {
			return
		}
		body, err := policy.decode(req.Body)
		if err == nil {
			err = checkCodes(body.Names())
		}
		if err != nil {
			checkWords(t, err)
		}
	})
}

// A date that is no day would be compared as a text by the core and be an error
// of the database's.
func TestADateThatIsNoDayIsRefusedBeforeTheRules(t *testing.T) {
	for body, field := range map[string]string{
		`{"site":"X","day":"2026-11-262026-11-26","pallets":["P4K7M2QX"]}`: "day",
		`{"site":"X","day":"26.11.2026","pallets":["P4K7M2QX"]}`:           "day",
		`{"site":"X","day":"2026-02-30","pallets":["P4K7M2QX"]}`:           "day",
		`{"site":"X","day":"0000-01-01","pallets":["P4K7M2QX"]}`:           "day",
		`{"consignment":"C","counts":[{"lot":"L","wanted":"soon"}]}`:       "wanted",
		`{"orders":[{"no":"A-1","promised":"next week"}],"source":"x"}`:    "promised",
		`{"site":"X","day":"2026-11-26","pallets":["P4K7M2QX"]}`:           "",
		`{"site":"X","pallets":["P4K7M2QX"]}`:                              "",
	} {
		kind := "load"
		switch {
		case strings.Contains(body, "counts"):
			kind = "receive-at-site"
		case strings.Contains(body, "orders"):
			kind = "enlist"
		}
		policy, _ := PolicyOf(kind)
		_, err := policy.decode([]byte(body))
		refused, _ := err.(*Refused)
		if field == "" && err != nil || field != "" && (refused == nil || refused.Refusal.Code != "bad-value" || refused.Refusal.Params["field"] != field) {
			t.Errorf("%s: %v, want the field %q refused", body, err, field)
		}
	}
}

func checkWords(t *testing.T, err error) {
	t.Helper()
	refused, ok := err.(*Refused)
	if !ok {
		t.Fatalf("%T %v is no refusal", err, err)
	}
	text := words.Refusal(refused.Refusal.Code, refused.Refusal.Params)
	if !words.Has(refused.Refusal.Code) || strings.Contains(text.Title+text.Why+text.Remedy, "(not known)") {
		t.Fatalf("%s has no words, or lacks a parameter: %+v", refused.Refusal.Code, refused.Refusal.Params)
	}
	if n := len(text.Title); n > 1000 {
		t.Fatalf("a sentence of %d bytes", n)
	}
}

func TestUnknownFieldIsNamed(t *testing.T) {
	_, err := DecodeRequest(strings.NewReader(`{"id":"x","colour":"red"}`))
	refused, ok := err.(*Refused)
	if !ok || refused.Refusal.Code != "unknown-field" || refused.Refusal.Params["field"] != "colour" {
		t.Errorf("got %v", err)
	}
}
