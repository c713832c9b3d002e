package postgres

import (
	"fmt"
	"slices"
	"strings"

	"tagalong/internal/code"
)

// loadQuery is the statement that reads, in one snapshot, every row a scope's
// names bring. It has only the parts those names need: most commands name one
// pallet and a belt, and starting parts that find nothing costs more than the
// rest. The few shapes there are stay prepared.
type loadQuery struct {
	args  []any
	lots  []string // parts that find lots: id, owner_order, body
	nests []string // parts that find nests: body
	rows  []string // parts that find rows: kind, body
	owner []string // parts that find orders' numbers
}

// loadSQL makes the statement. Each row comes as its kind and its body; "seen"
// lots are only looked at.
//
// What is found by what another query found is asked for as an array: the planner
// then goes by the index, however many it expects, where it would else read whole
// tables of a past of years.
func (sc *scope) loadSQL() (string, []any) {
	q := &loadQuery{}
	sc.loadPallets(q)
	sc.loadPlaces(q)
	sc.loadInside(q)
	sc.loadProblems(q)
	if p, named := q.names(sc, aLot); named {
		q.lot("id = ANY(%s)", p)
	}
	if p, named := q.names(sc, aHold); named {
		q.row("hold", "FROM hold WHERE id = ANY(%s)", p)
	}
	if p, named := q.names(sc, aSnag); named {
		q.row("snag", "FROM snag WHERE id = ANY(%s)", p)
	}
	if p, named := q.names(sc, anAbrasive); named {
		q.row("abrasive", "FROM abrasive WHERE id = ANY(%s)", p)
	}
	if p, named := q.names(sc, anOrder); named {
		q.row("order", "FROM orders WHERE no = ANY(%s)", p)
		q.row("build", "FROM build WHERE owner_order <> '' AND owner_order = ANY(%s)", p)
		if sc.whole {
			q.row("seen", "FROM lot WHERE owner_order <> '' AND owner_order = ANY(%s)", p)
		}
	}
	if p, named := q.names(sc, aNest); named {
		q.nests = append(q.nests, "SELECT body FROM nest WHERE id = ANY("+p+")")
	}
	q.always()
	return q.String(), q.args
}

// loadPallets: the pallets named or near, the lots on them, a sheet's nests.
func (sc *scope) loadPallets(q *loadQuery) {
	if p, named := q.names(sc, aPallet); named {
		q.lot("place_kind = 'pallet' AND place_ref = ANY(%s) AND qty > 0", p)
		q.row("pallet", "FROM pallet WHERE code = ANY(%s)", p)
		if slices.ContainsFunc(sc.of(aPallet), isSheet) {
			q.nests = append(q.nests, "SELECT body FROM nest WHERE sheet <> '' AND sheet = ANY("+p+")")
		}
	}
	if sc.slot != "" && sc.station != "" {
		q.rows = append(q.rows, fmt.Sprintf("SELECT 'pallet', body::text FROM pallet WHERE live AND bound = '' AND station IN (%s, '') AND slot = %s",
			q.arg(string(sc.station)), q.arg(sc.slot)))
	}
	if sc.near && sc.station != "" {
		p := q.arg(string(sc.station))
		q.row("pallet", "FROM pallet WHERE live AND station = %s", p)
		q.row("pallet", "FROM pallet WHERE live AND bound <> '' AND bound = %s", p)
	}
}

// loadPlaces: builds and consignments, the lots in them, and for trucks what of
// the same orders left on others.
func (sc *scope) loadPlaces(q *loadQuery) {
	if p, named := q.names(sc, aBuild); named {
		q.lot("place_kind = 'build' AND place_ref = ANY(%s) AND qty > 0", p)
		q.row("build", "FROM build WHERE code = ANY(%s)", p)
		q.owner = append(q.owner, "SELECT owner_order FROM build WHERE code = ANY("+p+")")
	}
	if p, named := q.names(sc, aConsignment); named {
		q.lot("place_kind = 'consignment' AND place_ref = ANY(%s) AND qty > 0", p)
		q.lot("place_kind = 'unexplained' AND place_ref = ANY(%s)", p) // what of it was missed, and may turn up
		q.row("consignment", "FROM consignment WHERE code = ANY(%s)", p)
		q.rows = append(q.rows, `SELECT 'seen', body::text FROM lot
			WHERE shipped AND owner_order <> '' AND owner_order = ANY(ARRAY(SELECT DISTINCT owner_order FROM lots))`)
	}
}

// loadInside: the components of the units named. They rest in the lot the unit
// was when they went in, which is one of its parents where it changed its owner.
func (sc *scope) loadInside(q *loadQuery) {
	if len(sc.inside) > 0 {
		q.lot(`place_kind = 'inside' AND qty > 0
			AND place_ref = ANY(%[1]s || ARRAY(SELECT parent FROM lot_parent WHERE lot = ANY(%[1]s)))`, q.arg(texts(sc.inside)))
	}
}

// loadProblems: the problems named, their lots, and the lots that were split
// off those and carry their hold on.
func (sc *scope) loadProblems(q *loadQuery) {
	if p, named := q.names(sc, aProblem); named {
		q.lot("id = ANY(ARRAY(SELECT lot FROM problem WHERE id = ANY(%s)))", p)
		q.lot("id = ANY(ARRAY(SELECT ref FROM hold WHERE released IS NULL AND scope = 'lot' AND body ->> 'problem' = ANY(%s)))", p)
		q.row("problem", "FROM problem WHERE id = ANY(%s)", p)
	}
}

// always: open holds, the lots' open problems, the owners' orders.
func (q *loadQuery) always() {
	q.rows = append(q.rows, "SELECT 'hold', body::text FROM hold WHERE released IS NULL")
	if len(q.nests) > 0 {
		q.rows = append(q.rows, "SELECT 'nest', body::text FROM nests")
		q.owner = append(q.owner, "SELECT jsonb_path_query(body, '$.parts[*].owner.order') #>> '{}' FROM nests")
	}
	if len(q.lots) > 0 {
		q.rows = append(q.rows, "SELECT 'lot', body FROM lots",
			"SELECT 'problem', body::text FROM problem WHERE closed IS NULL AND lot = ANY(ARRAY(SELECT id FROM lots))")
		q.owner = append(q.owner, "SELECT owner_order FROM lots")
	}
	for _, owner := range q.owner {
		q.rows = append(q.rows, "SELECT 'order', body::text FROM orders WHERE no = ANY(ARRAY("+owner+"))")
	}
}

func isSheet(c string) bool { return code.Code(c).Kind() == code.Sheet }

// arg adds a parameter and returns how the statement names it.
func (q *loadQuery) arg(v any) string {
	q.args = append(q.args, v)
	return fmt.Sprintf("$%d", len(q.args))
}

// names adds the names of a kind as a parameter, if there are any.
func (q *loadQuery) names(sc *scope, kind rowKind) (string, bool) {
	if len(sc.names[kind]) == 0 {
		return "", false
	}
	return q.arg(sc.of(kind)), true
}

func (q *loadQuery) lot(condition, p string) {
	q.lots = append(q.lots, "SELECT id, owner_order, body::text FROM lot WHERE "+fmt.Sprintf(condition, p))
}

func (q *loadQuery) row(kind, from, p string) {
	q.rows = append(q.rows, "SELECT '"+kind+"', body::text "+fmt.Sprintf(from, p)) // some bodies are json, others jsonb
}

func (q *loadQuery) String() string {
	none := "SELECT ''::text AS id, ''::text AS owner_order, NULL::text AS body WHERE false"
	with := "WITH lots AS MATERIALIZED (" + strings.Join(append(q.lots, none)[:max(1, len(q.lots))], "\nUNION ALL ") + ")"
	if len(q.nests) > 0 {
		with += ", nests AS MATERIALIZED (" + strings.Join(q.nests, "\nUNION ALL ") + ")"
	}
	return with + "\n" + strings.Join(q.rows, "\nUNION ALL ")
}
