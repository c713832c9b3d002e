package paper

import (
	"fmt"
	"io"
	"strings"
	"time"

	"tagalong/internal/code"
)

// A ContainerLabel goes on a box, pallet or stillage of a consignment.
type ContainerLabel struct {
	Kind        string // "pallet", "box"
	Code        string // the container's own, as read aloud
	Address     string // what its QR says
	Consignment string // code as read aloud, empty while it is on none
	No, Of      int    // the container's number among those of its consignment; Of 0: not known
	Orders      []OrderPart
	Customer    string
	Site        string    // where it goes
	Leaves      time.Time // date of loading; zero if not set
	MassKg      float64   // of the parts, 0 if not known
	GrossKg     float64   // as it stood on the scale, 0 if it was not weighed
	Contents    []Content
	Packaging   string // what the distance asks, empty where it asks nothing
	CutHazard   bool   // some part has its edges left as cut
	Marks       []Mark
	Shop        string
	Notice      string
}

// An OrderPart is an order with something in a container: the container is the
// Nth of Of that hold parts of it. Of 0: not known.
type OrderPart struct {
	Order   string
	Nth, Of int
}

func (o OrderPart) text() string {
	if o.Nth <= 0 || o.Of <= 0 {
		return o.Order
	}
	return fmt.Sprintf("%s (%d of %d)", o.Order, o.Nth, o.Of)
}

// A Content is a number of like parts in a container.
type Content struct {
	Count int
	Item  string // with its revision
	Name  string
}

// WriteContainerLabels draws one label of 100 × 150 mm a container, as
// WriteTravellers does on Label. made is the date of the document. It fails on
// an empty list (ErrNothing), on an address no QR code holds, and when w does.
func WriteContainerLabels(w io.Writer, labels []ContainerLabel, made time.Time) error {
	return writeContainerLabels(w, labels, made, nil)
}

func writeContainerLabels(w io.Writer, labels []ContainerLabel, made time.Time, prepare func(*sheet)) error {
	if len(labels) == 0 {
		return ErrNothing
	}
	s := newSheet(Label, "Container labels", labels[0].Shop, made)
	if prepare != nil {
		prepare(s)
	}
	for _, l := range labels {
		s.forget()
		if err := s.container(l, made); err != nil {
			return fmt.Errorf("label of %s: %w", l.Code, err)
		}
	}
	return s.write(w)
}

// NumberText says which container of how many it is, "2 of 5".
func (l ContainerLabel) NumberText() string {
	if l.Of <= 0 || l.No <= 0 {
		return "not numbered"
	}
	return fmt.Sprintf("%d of %d", l.No, l.Of)
}

// LiftingText is how it may be moved, by the mass of what is in it.
func (l ContainerLabel) LiftingText() string {
	mass, kg := "Mass not known", l.MassKg
	switch {
	case l.GrossKg > 0:
		mass, kg = "Gross "+Kg(l.GrossKg), l.GrossKg
	case l.MassKg > 0:
		mass = "Parts " + Kg(l.MassKg) + ", " + map[bool]string{true: "box", false: "carrier"}[l.Kind == "box"] + " and packaging more"
	}
	if l.Kind != "box" {
		return mass + ". Move it by truck; site rules, local codes and licensed people come first."
	}
	return mass + ": " + LiftNote(kg) + ". Site rules come first."
}

func (s *sheet) container(l ContainerLabel, made time.Time) error {
	m, err := code.QR(l.Address)
	if err != nil {
		return err
	}
	const toH, orderH, liftH, footH, marksH = 27.0, 11.0, 11.0, 6.0, 25.0
	s.addPage()
	s.box(rect{s.frameX, s.frameY, s.frameW, s.frameH})
	y := s.containerHead(l, m)

	in := s.frameW - 2*pad
	to := s.fit(l.Site, style{bold, 20}, in, 15)
	s.draw(cell{"to", to, left}, rect{s.frameX, y, s.frameW, toH})
	s.text(rect{s.frameX + pad, y + pad*0.7 + labelH + to.height() + 0.4, in, 6}, s.fit(l.Customer, style{regular, 12}, in, 6), left)
	y += toH
	const leavesW, grossW = 31.0, 30.0
	orderW := s.frameW - leavesW - grossW
	var orders []string
	for _, o := range l.Orders {
		orders = append(orders, o.text())
	}
	s.draw(cell{"order: which of its boxes", s.fit(strings.Join(orders, ", "), style{bold, 12}, orderW-2*pad, 6), left}, rect{s.frameX, y, orderW, orderH})
	leaves := "not set"
	if !l.Leaves.IsZero() {
		leaves = Date(l.Leaves)
	}
	s.draw(cell{"leaves", s.fit(leaves, style{bold, 11}, leavesW-2*pad, 6), left}, rect{s.frameX + orderW, y, leavesW, orderH})
	gross, at := s.fit("kg", style{bold, 11}, grossW-2*pad, 6), right // room for a pen
	if l.GrossKg > 0 {
		gross, at = s.fit(Kg(l.GrossKg), style{bold, 13}, grossW-2*pad, 6), left
	}
	s.draw(cell{"gross mass, weighed", gross, at}, rect{s.frameX + orderW + leavesW, y, grossW, orderH})
	y += orderH

	if l.Packaging != "" {
		const packedH = 9.5
		s.draw(cell{"packed for", s.fit(l.Packaging, style{regular, 8}, in, packedH-labelH-pad), left}, rect{s.frameX, y, s.frameW, packedH})
		y += packedH
	}
	end := s.frameY + s.frameH - footH
	if len(l.Marks) > 0 {
		end -= marksH
		s.marks(l.Marks, rect{s.frameX, end, s.frameW, marksH})
	}
	s.contents(l, y, end-liftH)
	s.box(rect{s.frameX, end - liftH, s.frameW, liftH})
	s.warning(s.frameX+5, end-liftH/2, 3)
	lift := l.LiftingText()
	if l.CutHazard {
		lift = "Sharp edges inside: gloves and sleeves. " + lift
	}
	s.middle(rect{s.frameX + 10, end - liftH, s.frameW - 10 - pad, liftH}, s.fit(lift, style{regular, 8}, s.frameW-10-pad, liftH-1), left)
	foot := s.frameY + s.frameH - footH
	s.hline(s.frameX, foot, s.frameW)
	s.middle(rect{s.frameX + pad, foot, in, footH}, s.fit(joinFilled(". ", "Printed "+DateTime(made), l.Shop, l.Notice), style{regular, small + 0.5}, in, footH-0.5), left)
	s.text(rect{s.frameX, s.frameY + s.frameH + 0.5, s.frameW, 5.2}, fit(s.notes(), style{regular, least}, s.frameW, 5.2), left)
	return nil
}

// containerHead is the code, what it is, and its number in its consignment.
func (s *sheet) containerHead(l ContainerLabel, m *code.Symbol) float64 {
	side := float64(m.Size()) * labelModule
	h := side + 1
	x, w := s.frameX+h, s.frameW-h
	in := w - 2*pad
	s.box(rect{s.frameX, s.frameY, h, h})
	s.qr(m, s.frameX+0.5, s.frameY+0.5, side)
	codeH := 11.0
	s.box(rect{x, s.frameY, w, codeH})
	s.middle(rect{x + pad, s.frameY, in, codeH}, s.fit(l.Code, style{mono, 24}, in, codeH-1), left)
	rowH := (h - codeH) / 2
	s.draw(cell{l.Kind, s.fit(l.NumberText(), style{bold, 19}, in, rowH-labelH-2*pad*0.7), left}, rect{x, s.frameY + codeH, w, rowH})
	consignment := l.Consignment
	if consignment == "" {
		consignment = "on none yet"
	}
	s.draw(cell{"consignment", s.fit(consignment, style{mono, 16}, in, rowH-labelH-2*pad*0.7), left}, rect{x, s.frameY + codeH + rowH, w, rowH})
	return s.frameY + h
}

// contents lists what is inside, as much as there is room for; the rest is counted.
func (s *sheet) contents(l ContainerLabel, y, end float64) {
	const rowH, countW = 5.6, 14.0
	in := s.frameW - countW - 3*pad
	used := s.label("inside", rect{s.frameX + pad, y + 0.6, in, labelH})
	y += used + 0.8
	room := int((end - y) / rowH)
	shown := l.Contents
	if len(shown) > room {
		shown = shown[:max(0, room-1)]
	}
	line := func(count, what string, face int) {
		s.middle(rect{s.frameX + pad, y, countW, rowH}, s.fit(count, style{bold, 11}, countW, rowH-0.6), right)
		s.middle(rect{s.frameX + countW + 2*pad, y, in, rowH}, s.fit(what, style{face, 9.5}, in, rowH-0.6), left)
		y += rowH
	}
	for _, c := range shown {
		line(fmt.Sprintf("%d ×", c.Count), joinFilled(", ", c.Item, c.Name), regular)
	}
	if rest := l.Contents[len(shown):]; len(rest) > 0 {
		n := 0
		for _, c := range rest {
			n += c.Count
		}
		line(fmt.Sprintf("%d ×", n), plural(len(rest), "more item")+", named on the packing list", bold)
	}
}
