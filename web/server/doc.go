// Package server is the HTTP server: it makes a router out of one table of
// endpoints, says who is asking, lets in whom the table admits, and turns what
// handlers return as errors into pages and problem documents. It also holds
// the JSON endpoints; the screens are packages of their own.
package server
