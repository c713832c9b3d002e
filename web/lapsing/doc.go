// Package lapsing is the office's pages of what holds until a day: gauges until
// their calibration ends, batches until they expire, qualifications until one
// of their clocks stops. What lapses first stands at the top. What is typed is
// judged and stored by the way of an import.
package lapsing
