// Package print gives what is printed: the traveller as an HTML page that
// prints on A4, with the same words as its PDF, which there is on A5 and labels
// too; all travellers of an order; container labels; signs. The traveller's
// page needs no script and no inline style.
package print
