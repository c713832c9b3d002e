package postgres

import (
	"context"
	"encoding/binary"
	"fmt"
	"slices"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"
)

// textArrays writes arrays of texts, which are most of what rows are sent as,
// into one piece of memory. The driver's own codec, which does the rest, takes
// each text in hand by itself: that was a quarter of what a command of many lots
// cost the server.
type textArrays struct{ *pgtype.ArrayCodec }

// quickCompressionSQL: what is too long for its row, as an event of many lots
// is, is made smaller by LZ4 where the server has been built with it; its own
// way takes five times as long. A backup holds it as it was written.
const quickCompressionSQL = `
	SELECT set_config(name, 'lz4', false) FROM pg_settings WHERE name = 'default_toast_compression' AND 'lz4' = ANY(enumvals)`

// prepareConnection makes a new connection ready for use.
func prepareConnection(ctx context.Context, conn *pgx.Conn) error {
	if _, err := conn.Exec(ctx, quickCompressionSQL); err != nil {
		return fmt.Errorf("choose how long texts are compressed: %w", err)
	}
	return registerTextArrays(conn)
}

func registerTextArrays(conn *pgx.Conn) error {
	known, ok := conn.TypeMap().TypeForOID(pgtype.TextArrayOID)
	if !ok {
		return fmt.Errorf("the driver knows no arrays of texts")
	}
	own, ok := known.Codec.(*pgtype.ArrayCodec)
	if !ok {
		return fmt.Errorf("the driver writes arrays of texts in a way unknown here: %T", known.Codec)
	}
	conn.TypeMap().RegisterType(&pgtype.Type{Name: known.Name, OID: known.OID, Codec: textArrays{own}})
	return nil
}

// PlanEncode is pgtype.Codec's.
func (c textArrays) PlanEncode(m *pgtype.Map, oid uint32, format int16, value any) pgtype.EncodePlan {
	if _, plain := value.([]string); plain && format == pgtype.BinaryFormatCode {
		return plainTexts{}
	}
	return c.ArrayCodec.PlanEncode(m, oid, format, value)
}

type plainTexts struct{}

// Encode is the binary form of array_recv in PostgreSQL's arrayfuncs.c: how many
// dimensions, whether there are nulls, of what type; of the dimension its length
// and first index; then each text after its length. All numbers have 32 bits,
// the most significant first.
func (plainTexts) Encode(value any, buf []byte) ([]byte, error) {
	texts := value.([]string)
	if texts == nil {
		return nil, nil // NULL
	}
	size := 20
	for _, t := range texts {
		size += 4 + len(t)
	}
	buf = slices.Grow(buf, size)
	number := func(n int) { buf = binary.BigEndian.AppendUint32(buf, uint32(n)) }
	number(1)
	number(0)
	number(pgtype.TextOID)
	number(len(texts))
	number(1)
	for _, t := range texts {
		number(len(t))
		buf = append(buf, t...)
	}
	return buf, nil
}
