// Package shopday holds one day of a shop as tests: a pallet goes from sheet to
// truck, checked and signed at every stage, with a real database behind a real
// server, once over HTTP with everything that must be refused, once in a real
// browser by the people whose work it is. It has no code of its own.
package shopday
