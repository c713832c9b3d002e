// Package separate is the bench where parts are broken out of a cut sheet or
// bar: its nest is ticked off, the parts go on pallets, their travellers are
// printed.
package separate
