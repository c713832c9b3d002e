package postgres

import (
	"context"
	"fmt"
	"strings"
	"unicode"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/app"
	"tagalong/internal/code"
)

// searchSQL: $1 is the text in lower case, $2 the text as a code, $3 its words
// as prefixes, $4 the limit. Prefixes are compared bytewise (~>=~, ~<~), which
// the indexes are made for; U+10FFFF stands after everything. What begins with a
// text is read in the order of its index, which has the shortest first, so that
// however many begin so only $4 of them are looked at: of orders the exact one,
// then the open ones, then those closed, of which the highest number is the
// latest. The words are taken apart as the indexes orders_words and item_words
// take them apart.
const searchSQL = `
	SELECT kind, key, title, sub FROM (SELECT *, row_number() OVER () AS nth FROM (
		(SELECT 'order' AS kind, no AS key, no AS title, concat_ws(', ', customer, promised::text) AS sub, 0 AS rank
		FROM orders WHERE $1 <> '' AND lower(no) = $1 ORDER BY no LIMIT $4)
		UNION ALL
		(SELECT 'order', no, no, concat_ws(', ', customer, promised::text), 1
		FROM orders WHERE $1 <> '' AND open AND lower(no) ~>~ $1 AND lower(no) ~<~ ($1 || U&'\+10FFFF') ORDER BY lower(no) USING ~<~ LIMIT $4)
		UNION ALL
		(SELECT 'order', no, no, concat_ws(', ', customer, promised::text), 2
		FROM orders WHERE $1 <> '' AND NOT open AND lower(no) ~>~ $1 AND lower(no) ~<~ ($1 || U&'\+10FFFF') ORDER BY lower(no) USING ~>~ LIMIT $4)
		UNION ALL
		(SELECT 'pallet', code, code, concat_ws(', ', nullif(label, ''), nullif(station, '')), (code <> $2)::int
		FROM pallet WHERE $2 <> '' AND code ~>=~ $2 AND code ~<~ ($2 || U&'\+10FFFF') ORDER BY code USING ~<~ LIMIT $4)
		UNION ALL
		(SELECT 'pallet', code, code, concat_ws(', ', nullif(label, ''), nullif(station, '')), (lower(label) <> $1)::int
		FROM pallet WHERE label <> '' AND $1 <> '' AND lower(label) ~>=~ $1 AND lower(label) ~<~ ($1 || U&'\+10FFFF') ORDER BY lower(label) USING ~<~ LIMIT $4)
		UNION ALL
		(SELECT 'consignment', code, code, concat_ws(', ', nullif(site, ''), day::text), (code <> $2)::int
		FROM consignment WHERE $2 <> '' AND code ~>=~ $2 AND code ~<~ ($2 || U&'\+10FFFF') ORDER BY code USING ~<~ LIMIT $4)
		UNION ALL
		(SELECT 'item', key, replace(key, '@', ' rev '), body ->> 'name', 3
		FROM item WHERE $1 <> '' AND lower(key) ~>=~ $1 AND lower(key) ~<~ ($1 || U&'\+10FFFF') ORDER BY key LIMIT $4)
		UNION ALL
		(SELECT 'order', no, no, concat_ws(', ', customer, promised::text), 4
		FROM orders WHERE $3 <> '' AND to_tsvector('simple', translate(customer || ' ' || reference, '-+/.@_~<>&', '          ')) @@ to_tsquery('simple', $3)
		ORDER BY open DESC, promised, no LIMIT $4)
		UNION ALL
		(SELECT 'item', key, replace(key, '@', ' rev '), body ->> 'name', 5
		FROM item WHERE $3 <> '' AND to_tsvector('simple', translate(body ->> 'name', '-+/.@_~<>&', '          ')) @@ to_tsquery('simple', $3) ORDER BY key LIMIT $4)
	) AS listed) AS found
	ORDER BY rank, nth`

// maxSearch is how much of a text is looked at.
const maxSearch = 100

// Search finds orders (by number, customer, or the customer's own reference),
// pallets and consignments (by code, spaced or not, or a sheet's number) and
// items (by number or the words of their name). Exact ones come first, open orders
// before closed ones.
func (s *Store) Search(ctx context.Context, text string, limit int) ([]app.Hit, error) {
	text = strings.TrimSpace(strings.ToValidUTF8(strings.ReplaceAll(text, "\x00", ""), ""))
	if len(text) > maxSearch {
		text = strings.ToValidUTF8(text[:maxSearch], "")
	}
	if text == "" || limit <= 0 {
		return nil, nil
	}
	found, err := s.pool.Query(ctx, searchSQL, strings.ToLower(text), codePrefix(text), wordPrefixes(text), limit)
	if err != nil {
		return nil, fmt.Errorf("search: %w", err)
	}
	hits, err := pgx.CollectRows(found, pgx.RowToStructByPos[app.Hit])
	if err != nil {
		return nil, fmt.Errorf("search: %w", err)
	}
	return tidyHits(hits, limit), nil
}

// tidyHits drops what was found twice and spaces codes as people read them.
func tidyHits(hits []app.Hit, limit int) []app.Hit {
	var out []app.Hit
	seen := map[string]bool{}
	for _, h := range hits {
		if seen[h.Kind+h.Key] || len(out) == limit {
			continue
		}
		seen[h.Kind+h.Key] = true
		if h.Kind == "pallet" || h.Kind == "consignment" {
			h.Title = code.Code(h.Key).Spaced()
		}
		out = append(out, h)
	}
	return out
}

// codePrefix is the text as the beginning of a code, or nothing.
func codePrefix(text string) string {
	if c, err := code.Parse(text); err == nil {
		return string(c)
	}
	bare := strings.Map(func(r rune) rune {
		if r == ' ' || r == '-' {
			return -1
		}
		return unicode.ToUpper(r)
	}, text)
	for _, r := range bare {
		if !strings.ContainsRune(code.Alphabet, r) {
			return ""
		}
	}
	return bare
}

// wordPrefixes is a text-search query that wants every word's beginning.
func wordPrefixes(text string) string {
	words := strings.FieldsFunc(text, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	for i, w := range words {
		words[i] = "'" + w + "':*"
	}
	return strings.Join(words, " & ")
}
