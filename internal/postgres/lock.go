package postgres

import "github.com/jackc/pgx/v5"

// Locks are PostgreSQL's advisory locks, which end with the transaction, and
// not row locks: a name may have no row yet (a new order, a belt never used),
// a row lock is written to the row and to the log, and these are not.
//
// Two commands can't wait for each other. Each takes its command's lock first,
// which only a command of the same id waits for; then everybody's lock, shared;
// then every name it will change or rely on, in one statement and in the order
// of the lock numbers. Rows found only later are never locked on top: the
// transaction is given up and begun again with all of them.
const (
	commandLocks   = 0x7461_6701 // one number each, by command id
	everybodysLock = 0x7461_6702
)

// A hold on an item, a heat or a gauge stops lots that nobody has named: without
// a lock of its own, work that did not see it yet would be recorded behind it.
// It keeps everybody else out, as an import does.

// maxNames is how many names are locked one by one. A command of more, such as
// an import of a year's orders, keeps everybody else out instead: the server's
// lock table is finite.
const maxNames = 400

const (
	lockCommandSQL   = `SELECT pg_advisory_xact_lock($1, hashtext($2))`
	lockSharedSQL    = `SELECT pg_advisory_xact_lock_shared($1, 0)`
	lockExclusiveSQL = `SELECT pg_advisory_xact_lock($1, 0)`
	// Numbers, not names, are put in order: two names may share a number.
	lockNamesSQL = `
		SELECT pg_advisory_xact_lock(number) FROM (
			SELECT DISTINCT hashtextextended(name, 0) AS number FROM unnest($1::text[]) AS name ORDER BY number
		) AS numbers`
)

func queueCommandLock(b *pgx.Batch, command string) {
	b.Queue(lockCommandSQL, int32(commandLocks), command)
}

func queueLocks(b *pgx.Batch, names []string, alone bool) {
	if alone || len(names) > maxNames {
		b.Queue(lockExclusiveSQL, int32(everybodysLock))
		return
	}
	b.Queue(lockSharedSQL, int32(everybodysLock))
	if len(names) > 0 {
		b.Queue(lockNamesSQL, names)
	}
}
