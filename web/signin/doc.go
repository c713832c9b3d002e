// Package signin is the pages on which a person signs in to the office, a
// tablet is enrolled to a station, and a PIN is set.
package signin
