// Package ui holds what the pages share: the shell with its title block, the
// route strip, outlines, cautions, refusals, number pads and the signing panel.
// It is given plain values and decides nothing.
package ui
