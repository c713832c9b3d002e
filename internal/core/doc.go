// Package core is the decision at the heart of Tagalong: may this pallet do
// this, here, now, signed by this person?
//
// [Decide] answers that for one [Command] over a [World] of loaded rows: it
// returns the [Event]s to record, or one [Refusal]. [Apply] folds an event into
// a [State]. Neither reads a clock, a file or a global; an event carries the
// effects it has, so a rebuild never consults today's rules.
//
// The package imports the standard library only.
package core
