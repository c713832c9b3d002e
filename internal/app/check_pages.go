package app

import "tagalong/internal/core"

// checksOnPage is how many ticks fit a tablet's page beside what they are about.
const checksOnPage = 4

// CheckPages lists characteristics in pages of at most four; one read with a
// gauge takes the room of two.
func CheckPages(cs []core.Characteristic) [][]core.Characteristic {
	var out [][]core.Characteristic
	room := 0
	for _, c := range cs {
		takes := CheckRoom(c)
		if takes > room {
			out = append(out, nil)
			room = checksOnPage
		}
		room -= takes
		out[len(out)-1] = append(out[len(out)-1], c)
	}
	return out
}

// CheckRoom is how many lines of a page a characteristic takes.
func CheckRoom(c core.Characteristic) int {
	if c.Kind == core.Measure && c.Instrument != "" {
		return 2
	}
	return 1
}
