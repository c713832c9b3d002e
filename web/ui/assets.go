package ui

// asset is the address of a file of web/assets.
func asset(name string) string { return "/assets/" + name }
