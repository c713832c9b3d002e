package app

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"strconv"
	"strings"
)

// DecodeRequest reads a command's request. It refuses one above [MaxRequest]
// bytes, one that is not JSON, and one with a field it doesn't know: a field
// that is ignored is a reading somebody believes was recorded. Errors are
// *[Refused].
func DecodeRequest(r io.Reader) (Request, error) {
	raw, err := io.ReadAll(io.LimitReader(r, MaxRequest+1))
	if err != nil {
		return Request{}, err
	}
	if len(raw) > MaxRequest {
		return Request{}, Refuse("too-large", "most", strconv.Itoa(MaxRequest/1024)+" KiB")
	}
	var req Request
	if err := decodeStrictly(raw, &req); err != nil {
		return Request{}, err
	}
	return req, nil
}

// decodeStrictly reads exactly one JSON value into v. Errors are *Refused.
func decodeStrictly(raw []byte, v any) error {
	if bytes.Contains(raw, []byte(`\u0000`)) {
		return Refuse("malformed", "detail", "a text holds the character NUL")
	}
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.DisallowUnknownFields()
	if err := dec.Decode(v); err != nil {
		return decodeRefusal(err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return Refuse("malformed", "detail", "something follows the end of the request")
	}
	return nil
}

func decodeRefusal(err error) error {
	if wrong, ok := errors.AsType[*json.UnmarshalTypeError](err); ok {
		field := wrong.Field
		if field == "" {
			field = "body"
		}
		return Refuse("bad-value", "field", Shorten(field, 60), "problem", "it holds a "+Shorten(wrong.Value, 40))
	}
	// The package tells of an unknown field in words only.
	if _, field, ok := strings.Cut(err.Error(), "unknown field "); ok {
		return Refuse("unknown-field", "field", Shorten(strings.Trim(field, `"`), 60))
	}
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return Refuse("malformed", "detail", "it ends too early")
	}
	return Refuse("malformed", "detail", Shorten(err.Error(), 120))
}

// Shorten keeps a text from flooding a page or a log.
func Shorten(s string, most int) string {
	s = strings.ToValidUTF8(s, "")
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "…"
	}
	return s
}
