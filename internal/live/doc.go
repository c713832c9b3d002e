// Package live follows the record and feeds the pages that stay up to date.
//
// One [Hub] follows the log: at every wake-up of the store, and twice a second
// should a wake-up be lost. A [Feed] renders something once for each change
// that concerns it, however many watch, and hands the same bytes to all of
// them. A watcher that is slow misses renderings, never the last one; one that
// takes nothing for long is given up, and its browser asks again.
package live
