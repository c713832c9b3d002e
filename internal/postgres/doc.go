// Package postgres keeps the record and the state of a shop in PostgreSQL. It
// implements app.Store: the Ledger that records commands, the Reader that
// answers the screens, and the Vault of badges, PINs and tablets.
//
// A command is one transaction of two round trips. The first begins, waits for
// the same command id, locks every row named, and loads the rows the decision
// may look at; the second appends what was decided, brings the state rows up to
// date and commits. Commands that find more rows than they named take one round
// trip more, see [Store.Execute].
//
// The server works as the role tagalong_app, which may add to the record but
// not change it; see [Open].
package postgres
