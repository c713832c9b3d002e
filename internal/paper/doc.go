// Package paper draws what the shop prints: the traveller of a pallet, badges,
// station signs and packing lists, as PDF on A4 (ISO 216, 210 × 297 mm).
//
// It takes plain values and knows nothing of the rules that made them. What a
// sheet says is said here once, so that the PDF and the HTML form of a
// traveller agree: see Traveller's methods and words.go.
//
// The same input gives the same bytes: dates come from the input, never from
// the clock.
package paper
