// Package certificate makes and serves the certificates of a shop's own network.
//
// [Make] writes a folder with a private authority and a server certificate signed by it. The authority can vouch for
// the names it was made for and for private addresses only, so that a tablet that trusts it trusts it with nothing
// else. [Load] reads a certificate to serve, by whomever it was signed, and reads it again when its files change.
package certificate
