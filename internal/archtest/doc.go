// Package archtest holds the project to its own layout: dependencies point
// inward, to a core that imports the standard library only.
package archtest
