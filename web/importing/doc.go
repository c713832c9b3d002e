// Package importing is the page on which a shop's files are brought in: they
// are chosen, read whole, shown as what they would change, and stored on one
// word, all of them or nothing. It gives the same files out again.
package importing
