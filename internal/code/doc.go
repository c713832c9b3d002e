// Package code makes and reads the codes printed on travellers, labels and
// signs.
//
// A code is eight symbols: a kind letter, six random symbols and a check
// character, over an alphabet of 31 symbols that leaves out 0 O 1 I L. It is
// printed in two groups of four, "P4K7 M2QX", and inside a QR symbol as an
// address in upper case, "HTTPS://HOST:8443/P/P4K7M2QX/2", whose last part is
// the number of the print.
//
// The package imports nothing of ours.
package code
