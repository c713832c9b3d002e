// Package print gives the traveller as an HTML page that prints on A4, with the
// same words as its PDF. The page needs no script and no inline style.
package print
