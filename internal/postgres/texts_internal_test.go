package postgres

import (
	"bytes"
	"testing"

	"github.com/jackc/pgx/v5/pgtype"
)

// TestTextArraysAreWrittenAsTheDriverDoes: to the byte.
func TestTextArraysAreWrittenAsTheDriverDoes(t *testing.T) {
	m := pgtype.NewMap()
	for _, texts := range [][]string{nil, {}, {""}, {"a", "", "Zoë, \"{}\""}, make([]string, 300)} {
		want, err := m.Encode(pgtype.TextArrayOID, pgtype.BinaryFormatCode, texts, []byte("before"))
		if err != nil {
			t.Fatal(err)
		}
		got, err := plainTexts{}.Encode(texts, []byte("before"))
		if err != nil || !bytes.Equal(got, want) {
			t.Errorf("%q: %x, %v; the driver writes %x", texts, got, err, want)
		}
	}
}
