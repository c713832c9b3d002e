package paper

import (
	"fmt"
	"io"
	"strings"
	"time"

	"tagalong/internal/code"
)

// A Sign hangs at a station or a slot and carries its code.
type Sign struct {
	Shop     string
	Name     string   // "Edge rounding line 1"
	Code     string   // as read aloud
	Address  string   // what the QR says
	Stages   []string // kinds of work done here
	Cautions []string // usual cautions of the place; the sheet adds that site rules come first
	Notice   string
}

// WriteStationSigns draws one A4 page a sign. made is the date of the document.
// It fails on an empty list (ErrNothing), on an address no QR code holds, and
// when w does.
func WriteStationSigns(w io.Writer, signs []Sign, made time.Time) error {
	return writeStationSigns(w, signs, made, nil)
}

func writeStationSigns(w io.Writer, signs []Sign, made time.Time, prepare func(*sheet)) error {
	if len(signs) == 0 {
		return ErrNothing
	}
	s := newSheet(A4, "Station signs", signs[0].Shop, made)
	if prepare != nil {
		prepare(s)
	}
	for _, sign := range signs {
		s.forget()
		if err := s.sign(sign); err != nil {
			return fmt.Errorf("sign of %s: %w", sign.Name, err)
		}
	}
	return s.write(w)
}

func (s *sheet) sign(g Sign) error {
	m, err := code.QR(g.Address)
	if err != nil {
		return err
	}
	s.addPage()
	s.box(rect{s.frameX, s.frameY, s.frameW, s.frameH})
	in := rect{s.frameX, s.frameY, s.frameW, s.frameH}.inset(8, 6)
	const nameH, side, codeH, stagesH, careH, shopH = 62.0, 110.0, 16.0, 26.0, 30.0, 12.0
	y := s.frameY
	s.middle(rect{in.x, y, in.w, nameH}, s.fit(g.Name, style{bold, 60}, in.w, nameH-6), centre)
	y += nameH
	s.hline(s.frameX, y, s.frameW)
	s.qr(m, s.frameX+(s.frameW-side)/2, y+2, side)
	s.middle(rect{in.x, y + side + 2, in.w, codeH}, s.fit(g.Code, style{mono, 36}, in.w, codeH), centre)
	y = s.frameY + s.frameH - shopH - careH - stagesH
	s.hline(s.frameX, y, s.frameW)
	s.label("work done here", rect{in.x, y + pad, in.w, labelH})
	s.middle(rect{in.x, y + pad + labelH, in.w, stagesH - 2*pad - labelH}, s.fit(strings.Join(g.Stages, ", "), style{bold, 20}, in.w, stagesH-2*pad-labelH), left)
	y += stagesH
	s.hline(s.frameX, y, s.frameW)
	s.warning(in.x+5, y+careH/2, 5)
	care := joinFilled(" ", strings.Join(g.Cautions, " "), "Site rules, local codes and licensed people come first.")
	s.middle(rect{in.x + 16, y, in.w - 16, careH}, s.fit(care, style{regular, 14}, in.w-16, careH-4), left)
	y += careH
	s.hline(s.frameX, y, s.frameW)
	s.middle(rect{in.x, y, in.w, shopH}, s.fit(joinFilled(". ", g.Shop, g.Notice), style{regular, normal}, in.w, shopH-2), left)
	s.text(rect{s.frameX, s.frameY + s.frameH + 0.8, s.frameW, 5.2}, fit(s.notes(), style{regular, least}, s.frameW, 5.2), left)
	return nil
}
