package main

import (
	"context"
	"net/http"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/postgres/pgtest"
	"tagalong/web/server"
)

// pastSQL copies the whole shop into the past, so many times: the record as it
// is with names of its own, the state as everything is in the end, shipped and
// closed. $1 is the first copy and $2 the last.
var pastSQL = []string{
	`INSERT INTO event (seq, id, xid, command_id, kind, v, happened_at, recorded_at, person, tablet, station, stage, corrects, parts, pallets, lots, device, payload)
		SELECT seq - k * span, id || s, xid, command_id || s, kind, v, happened_at - ago, recorded_at - ago, person, tablet, station, stage, corrects || s, parts,
			ARRAY(SELECT x || s FROM unnest(pallets) x), ARRAY(SELECT x || s FROM unnest(lots) x), device, payload FROM original.event`,
	`INSERT INTO event_pallet SELECT pallet || s, seq - k * span FROM original.event_pallet`,
	`INSERT INTO event_lot SELECT lot || s, seq - k * span FROM original.event_lot`,
	`INSERT INTO event_order SELECT order_no || s, seq - k * span FROM original.event_order`,
	`INSERT INTO move (seq, n, lot, item, rev, from_kind, from_ref, to_kind, to_ref, qty)
		SELECT seq - k * span, n, lot || s, item, rev, from_kind, from_ref || s, to_kind, to_ref || s, qty FROM original.move`,
	`INSERT INTO signature (seq, n, person, meaning, at, tablet, print_seen, print_state)
		SELECT seq - k * span, n, person, meaning, at - ago, tablet, print_seen, print_state FROM original.signature`,
	`INSERT INTO reading (seq, n, lot, characteristic, met, value, unit, instrument)
		SELECT seq - k * span, n, lot || s, characteristic, met, value, unit, instrument FROM original.reading`,
	`INSERT INTO step_input (seq, n, kind, batch, colour, expires) SELECT seq - k * span, n, kind, batch, colour, expires FROM original.step_input`,
	`INSERT INTO command (id, kind, body_sha, recorded_at, answer, events)
		SELECT id || s, kind, body_sha, recorded_at - ago, answer, ARRAY(SELECT x || s FROM unnest(events) x) FROM original.command`,
	`INSERT INTO refusal (n, command_id, at, kind, station, person, code, body)
		SELECT n - k * span, command_id || s, at - ago, kind, station, person, code, body FROM original.refusal`,
	`INSERT INTO refusal_about (kind, name, n) SELECT kind, name || s, n - k * span FROM original.refusal_about`,
	`INSERT INTO pallet (code, kind, label, station, bound, slot, consignment, since, live, body)
		SELECT code || s, kind, label || s, '', '', '', '', since - ago, false, jsonb_set(body::jsonb, '{code}', to_jsonb(code || s))::json FROM original.pallet`,
	`INSERT INTO lot (id, item, rev, owner_order, owner_line, place_kind, place_ref, qty, next_stage, next_stages, minutes, promised, arrived, begun, packed,
			shipped, live, lost, remake, accepted, gauges, body)
		SELECT id || s, item, rev, CASE owner_order WHEN '' THEN '' ELSE owner_order || s END, owner_line,
			CASE place_kind WHEN 'pallet' THEN 'site' WHEN 'build' THEN 'site' WHEN 'consignment' THEN 'site' ELSE place_kind END,
			CASE WHEN place_kind IN ('pallet', 'build', 'consignment', 'site') THEN 'SITE-LARKFIELD' ELSE place_ref || s END,
			qty, '', '{}', 0, promised - ago, arrived - ago, begun, true, true, false, false, CASE remake WHEN '' THEN '' ELSE remake || s END, true, gauges,
			jsonb_set(jsonb_set(body::jsonb, '{id}', to_jsonb(id || s)), '{owner,order}', to_jsonb(CASE owner_order WHEN '' THEN '' ELSE owner_order || s END))::json
		FROM original.lot`,
	`INSERT INTO lot_parent SELECT lot || s, parent || s FROM original.lot_parent`,
	`INSERT INTO lot_heat (heat, lot) SELECT heat || s, lot || s FROM original.lot_heat`,
	`INSERT INTO lot_sheet (sheet, lot) SELECT sheet || s, lot || s FROM original.lot_sheet`,
	`INSERT INTO lot_batch (batch, lot) SELECT batch, lot || s FROM original.lot_batch`,
	`INSERT INTO build (code, item, owner_order, owner_line, lot, body)
		SELECT code || s, item, CASE owner_order WHEN '' THEN '' ELSE owner_order || s END, owner_line, coalesce(nullif(lot, ''), 'made') || s, body FROM original.build`,
	`INSERT INTO consignment (code, site, day, gone, received, body)
		SELECT code || s, site, day - ago, coalesce(gone, now()) - ago, coalesce(received, now()) - ago, jsonb_set(body, '{code}', to_jsonb(code || s)) FROM original.consignment`,
	`INSERT INTO hold (id, scope, ref, since, at, released, body)
		SELECT id || s, scope, ref || s, since - ago, at - ago, coalesce(released, now()) - ago, body FROM original.hold`,
	`INSERT INTO problem (id, lot, at, closed, body) SELECT id || s, lot || s, at - ago, coalesce(closed, now()) - ago, body FROM original.problem`,
	`INSERT INTO orders (no, customer, reference, promised, priority, open, body)
		SELECT no || s, customer, reference, promised - ago, priority, false, jsonb_set(body, '{no}', to_jsonb(no || s)) FROM original.orders`,
	`INSERT INTO order_line (order_no, line, item, rev, qty) SELECT order_no || s, line, item, rev, qty FROM original.order_line`,
	`INSERT INTO nest (id, sheet, separated, body) SELECT id || s, sheet || s, true, body FROM original.nest`,
}

// years is a shop of a long past.
type years struct {
	*visit
	conn   *pgx.Conn
	each   int // events of one copy
	copies int
}

func newYears(b *testing.B) *years {
	b.Helper()
	db := pgtest.New(b)
	y := &years{visit: newVisitOn(b, db)}
	conn, err := pgx.Connect(b.Context(), db.SuperURL)
	must(b, err)
	b.Cleanup(func() { conn.Close(context.Background()) })
	y.conn = conn
	y.run("SET search_path = tagalong")
	y.run("SET session_replication_role = replica") // no trigger of the record's
	y.run("SET synchronous_commit = off")
	y.run("CREATE SCHEMA original")
	for _, sql := range pastSQL {
		table := strings.Fields(sql)[2]
		y.run("CREATE TABLE original." + table + " AS SELECT * FROM tagalong." + table)
	}
	must(b, conn.QueryRow(b.Context(), "SELECT count(*) FROM original.event").Scan(&y.each))
	return y
}

func (y *years) run(sql string, args ...any) {
	y.b.Helper()
	if _, err := y.conn.Exec(y.b.Context(), sql, args...); err != nil {
		y.b.Fatalf("%.120s: %v", sql, err)
	}
}

// reach copies the shop until its record holds so many events.
func (y *years) reach(events int) {
	y.b.Helper()
	const stretch = 50
	for y.copies*y.each < events-y.each {
		last := min(y.copies+stretch, (events-1)/y.each)
		for _, sql := range pastSQL {
			y.run(sql+` CROSS JOIN (
				SELECT k, '~' || k AS s, interval '400 days' + k * interval '9 hours' AS ago, (SELECT max(seq) - min(seq) + 1 FROM original.event) AS span
				FROM generate_series($1::bigint, $2::bigint) k) AS past`, y.copies+1, last)
		}
		y.copies = last
	}
	y.run("VACUUM ANALYZE")
}

// BenchmarkYears asks for every page in the same shop with a record of 100 000
// events and with one of TAGALONG_BENCH_EVENTS, a million where that isn't set,
// and reports how many times as long the second takes, by the quickest of each.
// What a shop has behind it may not slow what it does today by half.
func BenchmarkYears(b *testing.B) {
	const most = 1.5
	const slack = 2 * time.Millisecond // less than anybody notices, and what one query more or less cached makes
	many := 1_000_000
	if text := os.Getenv("TAGALONG_BENCH_EVENTS"); text != "" {
		var err error
		many, err = strconv.Atoi(text)
		must(b, err)
	}
	y := newYears(b)
	paths := y.pathsOf()
	var names []string
	for _, e := range table() {
		path, known := paths[e.Path]
		if e.Method != http.MethodGet || e.Stream || strings.HasPrefix(e.Path, "/assets/") || strings.HasSuffix(e.Path, ".pdf") || e.Path == server.AuthorityPath {
			continue
		}
		if !known {
			paths[e.Path] = page{at: "DOCK-1", path: e.Path}
		}
		if path.at != theBearer && e.Path != "/export.zip" { // which is the whole shop, by what it is for
			names = append(names, e.Path)
		}
	}
	slices.Sort(names)
	for _, q := range []string{"brackenmoor", "SK-1200", "O-41"} {
		paths["/find "+q] = page{at: "DOCK-1", path: "/find?q=" + q}
		names = append(names, "/find "+q)
	}
	ask := func(rounds int) map[string]time.Duration {
		out := map[string]time.Duration{}
		for _, name := range names {
			y.become(paths[name].at)
			out[name] = time.Hour
			for range rounds {
				began := time.Now()
				if w := y.get(paths[name].path); w.Code >= 400 {
					b.Fatalf("%s: %d %.300s", paths[name].path, w.Code, w.Body)
				}
				out[name] = min(out[name], time.Since(began))
			}
		}
		return out
	}
	const rounds = 12
	y.reach(100_000)
	few := ask(rounds)
	began := time.Now()
	y.reach(many)
	b.Logf("%d events of %d copies of the shop, %v to make them", y.each*(1+y.copies), y.copies, time.Since(began).Round(time.Second))
	lots := ask(rounds)
	worst := 1.0
	for _, name := range names {
		times := float64(lots[name]) / float64(few[name])
		if lots[name]-few[name] > slack {
			worst = max(worst, times)
		}
		if times > most && lots[name]-few[name] > slack {
			b.Errorf("%s takes %v with %d events and took %v with 100000: %.1f times as long, more than %.1f", name, lots[name], many, few[name], times, most)
		}
	}
	b.ReportMetric(worst, "times-at-most")
	b.ReportMetric(float64(many), "events")
	b.ReportMetric(0, "ns/op")
}
