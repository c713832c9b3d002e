// Package crowd is the people of a small invented shop, drawn at random, and
// books kept beside the core that know of every part where it is. Tests of the
// core send them into a shop in memory, tests of the store send eight of them
// into one database at once.
package crowd
