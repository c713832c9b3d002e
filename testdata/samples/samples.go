// Package samples holds the files of the invented sample shop, for the demo
// shop and for tests. README.md describes them field by field.
package samples

import "embed"

// Files are the CSV files.
//
//go:embed *.csv
var Files embed.FS
