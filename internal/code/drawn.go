package code

import "sync"

// drawn keeps the symbols made last. Choosing a symbol's mask takes a
// millisecond, and one address is drawn again and again: on the pages of a
// traveller, at every reprint, on every label of a truck. What a symbol looks
// like follows from its content alone, so a kept one is never out of date.
var drawn = struct {
	sync.Mutex
	symbols map[string]*Symbol
}{symbols: map[string]*Symbol{}}

// mostDrawn is how many symbols are kept, some 2 kB each.
const mostDrawn = 1024

func drawnBefore(content string) (*Symbol, bool) {
	drawn.Lock()
	defer drawn.Unlock()
	s, ok := drawn.symbols[content]
	return s, ok
}

func keepDrawn(content string, s *Symbol) {
	drawn.Lock()
	defer drawn.Unlock()
	if len(drawn.symbols) == mostDrawn {
		clear(drawn.symbols)
	}
	drawn.symbols[content] = s
}
