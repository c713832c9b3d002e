// Package calendar knows when a shop works.
//
// Three kinds of time are kept apart. A promised date is a Date: a day without
// hour or zone. A shift starts and ends by the clock on the wall, in the shop's
// one IANA zone, and belongs to the day it starts; a night shift of 22:00 to
// 06:00 takes 7, 8 or 9 hours. A lapse ("pretreat again after 12 hours") is
// exact time, whatever the clocks on the wall do.
//
// The zone database is built in, so that a machine without one agrees with the
// others. The package imports nothing of ours.
package calendar
