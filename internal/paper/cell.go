package paper

// Sizes of type in points, by what they are for.
const (
	small  = 6.5  // labels above a value, notes
	normal = 9.0  // what is read at the bench
	strong = 12.0 // item, order
	large  = 16.0 // customer, date
	huge   = 24.0 // counts
)

// A cell is a label in small type with its value beneath, as in the title block
// of a drawing.
type cell struct {
	label string
	value text
	place align
}

const labelH = small * mmPerPoint * leading

// height of the cell with its padding.
func (c cell) height() float64 { return labelH + c.value.height() + 2*pad*0.7 }

// draw puts the cell in a frame and its frame's lines around it.
func (s *sheet) draw(c cell, frame rect) {
	s.box(frame)
	in := frame.inset(pad, pad*0.7)
	s.text(rect{in.x, in.y, in.w, labelH}, s.fit(c.label, style{regular, small}, in.w, labelH), left)
	s.text(rect{in.x, in.y + labelH, in.w, in.h - labelH}, c.value, c.place)
}

// flowCell is a cell whose value grows downwards to at most most lines.
func (s *sheet) flowCell(label, value string, st style, w float64, most int) cell {
	return cell{label: label, value: s.flow(value, st, w-2*pad, most)}
}

// A block is a piece of the page that isn't broken.
type block struct {
	h    float64
	draw func(y float64)
	// lead keeps the block on the page of the one after it.
	lead bool
	// again is drawn at the top of a page that begins with this block.
	again []block
}

// paginate fills pages with blocks: the first holds first millimetres, the
// others rest.
func paginate(blocks []block, first, rest float64) [][]block {
	var pages [][]block
	var page []block
	room, whole := first, first
	for i, b := range blocks {
		need := 0.0
		for _, c := range blocks[i:] {
			need += c.h
			if !c.lead {
				break
			}
		}
		if need > rest { // a chain longer than a page can't be kept together
			need = b.h
		}
		if need > room+1e-6 && (len(page) > 0 || whole < rest) {
			pages = append(pages, page)
			page, room, whole = nil, rest, rest
			for _, a := range b.again {
				page = append(page, a)
				room -= a.h
			}
		}
		page = append(page, b)
		room -= b.h
	}
	return append(pages, page)
}

// bar is a framed line of text across the sheet. A hold's is double, as its
// symbol is.
func (s *sheet) bar(word, value string, double bool, sign func(cx, cy, r float64)) block {
	const signW = 11.0
	wordText := s.fit(word, style{bold, normal + 1}, 30, 5)
	wordW := 2.0
	for _, l := range wordText.lines {
		wordW = max(wordW, width(l, wordText.style.face, wordText.style.size)+2)
	}
	body := s.flow(value, style{regular, normal}, s.frameW-signW-wordW-2*pad, 6)
	h := max(7.2, body.height()+3, wordText.height()+3)
	return block{h: h, lead: true, draw: func(y float64) {
		s.box(rect{s.frameX, y, s.frameW, h})
		if double {
			s.box(rect{s.frameX + 0.8, y + 0.8, s.frameW - 1.6, h - 1.6})
		}
		sign(s.frameX+signW/2, y+h/2, 2)
		s.middle(rect{s.frameX + signW, y, wordW, h}, wordText, left)
		s.middle(rect{s.frameX + signW + wordW, y, s.frameW - signW - wordW - 2*pad, h}, body, left)
	}}
}

func (s *sheet) holdBar(word string, h Hold) block {
	return s.bar(word, h.Text(), true, s.holdSign)
}

func (s *sheet) holdSign(cx, cy, r float64) { s.symbol(cx, cy, r, Inspection, true, false) }

func (s *sheet) concessionBar(c Concession) block {
	return s.bar("CONCESSION", c.Text(), false, func(cx, cy, r float64) {
		s.text(rect{cx - 4, cy - 2, 8, 4}, s.fit("!", style{bold, normal}, 8, 4), centre)
	})
}

func (s *sheet) hazardBar() block {
	return s.bar("CUT HAZARD", SharpEdges, false, s.warning)
}
