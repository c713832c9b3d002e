// Package paper draws what the shop prints as PDF: the traveller of a pallet on
// A4 or A5 (ISO 216) or on a label of 100 × 150 mm, container labels, badges,
// signs of stations and slots, and packing lists.
//
// It takes plain values and knows nothing of the rules that made them. What a
// sheet says is said here once, so that the PDF and the HTML form of a
// traveller agree: see Traveller's methods and words.go.
//
// The same input gives the same bytes: dates come from the input, never from
// the clock.
package paper
