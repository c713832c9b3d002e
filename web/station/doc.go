// Package station is the tablet's pages: a station at rest, a pallet after a
// scan with the one thing to do now, units to gather and build, and goods in.
package station
