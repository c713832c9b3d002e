package paper

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"tagalong/internal/code"
)

// A PackingList goes with one consignment.
type PackingList struct {
	Code      string // consignment code as read aloud
	Address   string // what the QR says
	PrintedAt time.Time
	PrintedBy string
	Shop      string
	Notice    string
	Customer  string
	ShipTo    string
	Leaves    time.Time // date of loading
	Left      time.Time // when it went; zero: not yet
	Vehicle   string    // it went on, by its registration
	Promised  time.Time
	Packaging string // what the distance asks for
	Lines     []PackedLine
	Packages  []Package
	Missing   []MissingLine
	Remarks   []string
	Link      SiteLink // none where Address is empty
	Signature []byte   // the driver's as it was drawn, PNG or JPEG; none: on paper, or not yet
}

// A PackedLine is one order line of the consignment.
type PackedLine struct {
	Order, Customer, Line, Item, Name, Revision string
	Asked, Packed                               int
	In                                          string // pallet or package codes
	When                                        string // when it was packed and by whom, in a word or two
}

// A Package is one pallet, crate or box of the consignment.
type Package struct {
	No     int // in the order of loading, 1 goes on first
	Code   string
	Kind   string  // "pallet", "box"
	SizeMM string  // of what is on it
	MassKg float64 // of the parts; 0: not known
	// GrossKg is what it weighed as it stood on the scale; 0: not weighed.
	GrossKg float64
	Note    string
}

// A MissingLine is what doesn't go along, and where it is.
type MissingLine struct {
	Order, Line, Item string
	Count             int
	Where             string
}

// A SiteLink is the link with which a consignment is received at its site on a
// phone. Whoever has the list has the link.
type SiteLink struct {
	Address string
	Until   time.Time // it ends then at the latest
}

// MassText is the gross mass of all packages, where each was weighed; else the
// mass of their parts, by the drawings, and which packages are not in it because
// theirs isn't known.
func (p PackingList) MassText() string {
	sum, gross := 0.0, 0.0
	weighed := len(p.Packages) > 0
	var unknown []string
	for _, k := range p.Packages {
		weighed = weighed && k.GrossKg > 0
		gross += k.GrossKg
		if sum += k.MassKg; k.MassKg <= 0 {
			unknown = append(unknown, k.Code)
		}
	}
	switch {
	case weighed:
		return "gross " + Kg(gross) + ", weighed"
	case len(unknown) == len(p.Packages):
		return "mass not known"
	case len(unknown) > 0:
		return "parts " + Kg(sum) + " and " + strings.Join(unknown, ", ") + " of unknown mass"
	}
	return "parts " + Kg(sum)
}

// Orders lists the orders of the lines, in their order.
func (p PackingList) Orders() []string {
	var out []string
	for _, l := range p.Lines {
		if !slices.Contains(out, l.Order) {
			out = append(out, l.Order)
		}
	}
	return out
}

// WritePackingList draws the list on A4, on as many pages as it needs. It fails
// on an address no QR code holds and when w does.
func WritePackingList(w io.Writer, p PackingList) error { return writePackingList(w, p, nil) }

func writePackingList(w io.Writer, p PackingList, prepare func(*sheet)) error {
	m, err := code.QR(p.Address)
	if err != nil {
		return fmt.Errorf("packing list %s: %w", p.Code, err)
	}
	s := newSheet(A4, "Packing list "+p.Code, p.Shop, p.PrintedAt)
	if prepare != nil {
		prepare(s)
	}
	head := s.packingHead(p, m)
	var blocks []block
	blocks = append(blocks, s.packedTable(p)...)
	blocks = append(blocks, s.packagesTable(p)...)
	blocks = append(blocks, s.missingTable(p)...)
	for _, r := range p.Remarks {
		t := s.flow(r, style{regular, normal}, s.frameW-2*pad, 4)
		blocks = append(blocks, block{h: t.height() + 2, draw: func(y float64) {
			s.text(rect{s.frameX + pad, y + 1, s.frameW - 2*pad, t.height()}, t, left)
		}})
	}
	link, err := s.siteLink(p)
	if err != nil {
		return fmt.Errorf("packing list %s: %w", p.Code, err)
	}
	blocks = append(blocks, link...)
	const handH = 34.0
	blocks = append(blocks, s.handOver(p, handH))
	end := s.frameY + s.frameH - 10
	pages := paginate(blocks, end-s.frameY-head.h, end-s.frameY-head.h)
	for i, page := range pages {
		s.addPage()
		s.box(rect{s.frameX, s.frameY, s.frameW, s.frameH})
		head.draw(s.frameY)
		y := s.frameY + head.h
		for _, b := range page {
			b.draw(y)
			y += b.h
		}
		s.hline(s.frameX, y, s.frameW)
		s.hline(s.frameX, end, s.frameW)
		foot := fmt.Sprintf("page %d of %d", i+1, len(pages))
		s.middle(rect{s.frameX + pad, end, 30, 10}, s.fit(foot, style{bold, strong - 2}, 30, 6), left)
		s.middle(rect{s.frameX + 34, end, s.frameW - 34 - pad, 10}, s.fit(joinFilled(". ", p.Shop, p.Notice), style{regular, small + 1}, s.frameW-34-pad, 8), right)
		s.text(rect{s.frameX, s.frameY + s.frameH + 0.8, s.frameW, 5.2}, fit(s.notes(), style{regular, least}, s.frameW, 5.2), left)
	}
	return s.write(w)
}

// packingHead is the same on every page.
func (s *sheet) packingHead(p PackingList, m *code.Symbol) block {
	const side = 36.0
	const left0 = side + 4
	w := s.frameW - left0
	to := s.flowCell("packing list for", joinFilled(", ", p.Customer, p.ShipTo), style{bold, large - 2}, w-44, 3)
	promised := s.flowCell("promised", PromisedText(p.Promised), style{bold, strong}, 44, 2)
	word, leaves := "leaves", "not set"
	switch {
	case !p.Left.IsZero():
		word, leaves = "left", joinFilled(", ", DateTime(p.Left), p.Vehicle)
	case !p.Leaves.IsZero():
		leaves = Date(p.Leaves)
	}
	away := s.flowCell(word, leaves, style{bold, strong}, 44, 2)
	total := s.flowCell("load", plural(len(p.Packages), "package")+", "+p.MassText(), style{bold, strong}, w-44, 2)
	packaging := s.flowCell("packaging", p.Packaging, style{regular, normal}, w-44, 3)
	print := s.flowCell("printed", joinFilled(", ", DateTime(p.PrintedAt), p.PrintedBy), style{regular, normal}, 44, 3)
	h1 := max(to.height(), promised.height())
	h2 := max(total.height(), away.height())
	h3 := max(packaging.height(), print.height(), side+12-h1-h2)
	h := h1 + h2 + h3
	codeText := s.fit(p.Code, style{mono, 16}, left0-2*pad, 7)
	return block{h: h, draw: func(y float64) {
		s.box(rect{s.frameX, y, left0, h})
		s.qr(m, s.frameX+2, y+(h-side-9)/2, side)
		s.text(rect{s.frameX + pad, y + (h-side-9)/2 + side, left0 - 2*pad, 7}, codeText, centre)
		x := s.frameX + left0
		s.draw(to, rect{x, y, w - 44, h1})
		s.draw(promised, rect{x + w - 44, y, 44, h1})
		s.draw(total, rect{x, y + h1, w - 44, h2})
		s.draw(away, rect{x + w - 44, y + h1, 44, h2})
		s.draw(packaging, rect{x, y + h1 + h2, w - 44, h3})
		s.draw(print, rect{x + w - 44, y + h1 + h2, 44, h3})
	}}
}

// A column of a table: its word, its width, and how its text stands.
type column struct {
	word  string
	w     float64
	place align
	face  int
}

// table is a titled table; a row with a pen box has it in a last column of the
// rest of the width.
func (s *sheet) table(title string, cols []column, rows [][]string, penBox bool) []block {
	heading := s.fit(title, style{bold, strong - 2}, s.frameW-2*pad, 6)
	titleBlock := block{h: 7.5, lead: true, draw: func(y float64) {
		s.hline(s.frameX, y, s.frameW)
		s.middle(rect{s.frameX + pad, y + 0.5, s.frameW - 2*pad, 7}, heading, left)
	}}
	header := block{h: 4.6, lead: true, draw: func(y float64) {
		x := s.frameX
		for _, c := range cols {
			s.middle(rect{x + pad, y, c.w - 2*pad, 4.6}, s.fit(c.word, style{regular, small}, c.w-2*pad, 4.6), c.place)
			x += c.w
		}
		s.hline(s.frameX, y+4.6, s.frameW)
	}}
	out := []block{titleBlock, header}
	for _, row := range rows {
		cells := make([]text, len(cols))
		h := 0.0
		for i, c := range cols {
			cells[i] = s.flow(row[i], style{c.face, normal}, c.w-2*pad, 4)
			h = max(h, cells[i].height()+2)
		}
		if penBox {
			h = max(h, 8)
		}
		out = append(out, block{h: h, again: []block{titleBlock, header}, draw: func(y float64) {
			x := s.frameX
			for i, c := range cols {
				s.middle(rect{x + pad, y, c.w - 2*pad, h}, cells[i], c.place)
				x += c.w
			}
			if penBox {
				s.box(rect{x + pad, y + (h-6)/2, s.frameX + s.frameW - x - 2*pad, 6})
			}
			s.hline(s.frameX, y+h, s.frameW)
		}})
	}
	return out
}

func (s *sheet) packedTable(p PackingList) []block {
	cols := []column{{"order, line", 24, left, regular}, {"item", 62, left, bold}, {"in package", 34, left, regular}, {"packed: when, by", 30, left, regular}, {"asked", 12, right, regular}, {"packed", 13, right, bold}}
	orders := p.Orders()
	var out []block
	for _, no := range orders {
		var rows [][]string
		title := "What goes along (count it again into the box on the right)"
		for _, l := range p.Lines {
			if l.Order != no {
				continue
			}
			if len(orders) > 1 {
				title = joinFilled(", ", "Order "+l.Order, l.Customer) + " (count it again into the box on the right)"
			}
			rows = append(rows, []string{joinFilled(", ", l.Order, l.Line),
				joinFilled(", ", joinFilled(" ", l.Item, prefixed("rev ", l.Revision, "")), l.Name), l.In, l.When,
				strconv.Itoa(l.Asked), strconv.Itoa(l.Packed)})
		}
		out = append(out, s.table(title, cols, rows, true)...)
	}
	return out
}

func (s *sheet) packagesTable(p PackingList) []block {
	cols := []column{{"place", 12, right, bold}, {"package", 32, left, mono}, {"kind", 20, left, regular}, {"size", 44, left, regular}, {"parts, gross", 24, right, bold}, {"what is on it", 58, left, regular}}
	var rows [][]string
	for _, k := range p.Packages {
		mass := "not known"
		if k.MassKg > 0 {
			mass = Kg(k.MassKg)
		}
		if k.GrossKg > 0 {
			mass += ", " + Kg(k.GrossKg)
		}
		rows = append(rows, []string{placeText(k.No), k.Code, k.Kind, k.SizeMM, mass, k.Note})
	}
	out := s.table("Packages, in the order they go on the truck", cols, rows, false)
	t := s.flow(loadCare, style{regular, small + 1}, s.frameW-2*pad, 3)
	return append(out, block{h: t.height() + 2, draw: func(y float64) {
		s.text(rect{s.frameX + pad, y + 1, s.frameW - 2*pad, t.height()}, t, left)
	}})
}

// loadCare is the rule of the load order with its basis, and the caution.
const loadCare = "Place: what is unloaded last goes on first; pallets before the boxes set on them; heavy before light, so that it stands low; " +
	"what has no known mass is weighed first (common practice, no source). Masses are of the parts, by the drawings, carrier and packaging weighing more; gross where it was weighed. " +
	"Lift by truck or gear. How the load is spread and lashed is for the driver, the site rules, local codes and licensed people to say."

func placeText(no int) string {
	if no <= 0 {
		return ""
	}
	return strconv.Itoa(no)
}

func (s *sheet) missingTable(p PackingList) []block {
	if !p.Left.IsZero() { // what was missing then is not told
		return nil
	}
	if len(p.Missing) == 0 {
		t := s.fit("Nothing is missing.", style{bold, strong - 2}, s.frameW-2*pad, 6)
		return []block{{h: 8, draw: func(y float64) { s.middle(rect{s.frameX + pad, y, s.frameW - 2*pad, 8}, t, left) }}}
	}
	cols := []column{{"order, line", 24, left, regular}, {"item", 54, left, bold}, {"short", 16, right, bold}, {"where it is", 96, left, regular}}
	var rows [][]string
	for _, l := range p.Missing {
		rows = append(rows, []string{joinFilled(", ", l.Order, l.Line), l.Item, strconv.Itoa(l.Count), l.Where})
	}
	return s.table("NOT ON THIS LOAD", cols, rows, false)
}

// siteLink is the link as a symbol, for the phone at the site, with what whoever
// holds the paper must know of it.
func (s *sheet) siteLink(p PackingList) ([]block, error) {
	if p.Link.Address == "" {
		return nil, nil
	}
	m, err := code.SecretQR(p.Link.Address)
	if err != nil {
		return nil, err
	}
	const side, h = 34.0, 36.0
	w := s.frameW - side - 4 - 2*pad
	title := s.fit("FOR THE FITTER AT THE SITE: scan this with a phone and receive the load there", style{bold, strong - 2}, w, 7)
	about := s.flow(linkRules+" Good until "+Date(p.Link.Until)+" at the latest.", style{regular, normal}, w, 8)
	return []block{{h: h, draw: func(y float64) {
		s.hline(s.frameX, y, s.frameW)
		s.qr(m, s.frameX+1, y+1, side)
		s.vline(s.frameX+side+2, y, h)
		x := s.frameX + side + 2 + pad
		used := s.text(rect{x, y + 1.5, w, 7}, title, left)
		s.text(rect{x, y + 2.5 + used, w, h - used - 3}, about, left)
	}}}, nil
}

const linkRules = "No account is needed: count each box, photograph damage, sign. The link opens this consignment and nothing else, " +
	"on the first phone that says it is at the site; keep this sheet from others until then, and don’t photograph it. A sheet that is lost or was claimed by somebody " +
	"else: call the shop, which withdraws the link; a list printed anew with a link withdraws this one if nobody has claimed it."

// handDriver is the driver's place among the three that sign.
const handDriver = 1

// handOver is where driver and fitter sign. A driver who signed on glass has
// signed already.
func (s *sheet) handOver(p PackingList, h float64) block {
	return block{h: h, draw: func(y float64) {
		s.hline(s.frameX, y, s.frameW)
		for i, word := range []string{"Loaded by: name, time, signature", "Taken by the driver: name, time, signature", "Received at site: name, time, signature, damage seen"} {
			w := s.frameW / 3
			r := rect{s.frameX + float64(i)*w, y, w, h}
			s.box(r)
			used := s.label(word, rect{r.x + pad, r.y + pad*0.7, w - 2*pad, labelH})
			if i == handDriver && len(p.Signature) > 0 {
				const whenH = 4.5
				top := r.y + pad*0.7 + used
				s.picture(Outline{Picture: p.Signature}, rect{r.x, top, w, h - (top - r.y) - whenH}.inset(pad, 0.5))
				s.text(rect{r.x + pad, r.y + h - whenH, w - 2*pad, whenH}, s.fit(joinFilled(", ", "drawn at the dock", DateTime(p.Left)), style{regular, small + 1}, w-2*pad, whenH), left)
			}
		}
	}}
}
