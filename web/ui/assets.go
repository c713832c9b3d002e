package ui

import "tagalong/web/assets"

// asset is the address of a file of web/assets.
func asset(name string) string { return assets.Path(name) }
