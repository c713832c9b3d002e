package ui

import "tagalong/internal/core"

// StripStep is one step of a route strip.
type StripStep struct {
	Name    string // "Round the edges"
	Mark    core.Mark
	Hold    bool
	Done    bool
	Current bool
	Held    bool // stopped here: drawn in yellow, and said
}

// word says in words what the symbol shows.
func (s StripStep) word() string {
	switch {
	case s.Held:
		return ", held here"
	case s.Done:
		return ", done"
	case s.Current:
		return ", now"
	case s.Hold:
		return ", hold point"
	}
	return ""
}

func (s StripStep) class(inner bool) string {
	switch {
	case s.Held:
		return "shape odd"
	case s.Done && (inner || !s.Hold):
		return "shape full"
	}
	return "shape open"
}
