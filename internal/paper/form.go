package paper

import (
	"fmt"
	"strings"
)

// A Size is the paper a traveller is printed on.
type Size int

// The sizes of a traveller.
const (
	A4    Size = iota // ISO 216, 210 × 297 mm
	A5                // ISO 216, 148 × 210 mm
	Label             // 100 × 150 mm, for a label printer of 8 dots a millimetre
)

// Sizes lists every size, the largest first.
func Sizes() []Size { return []Size{A4, A5, Label} }

var sizeNames = [...]string{A4: "a4", A5: "a5", Label: "label"}

// String is the size's name as an address or a command takes it: "a4", "a5", "label".
func (z Size) String() string { return sizeNames[z] }

// Title is the size as a person reads it.
func (z Size) Title() string {
	if z == Label {
		return "label 100 × 150"
	}
	return strings.ToUpper(z.String())
}

// MM is the width and height of the paper in millimetres.
func (z Size) MM() (w, h float64) { return z.form().pageW, z.form().pageH }

// ParseSize reads a size's name, in capitals or not. The error says which there are.
func ParseSize(text string) (Size, error) {
	for _, z := range Sizes() {
		if strings.EqualFold(text, z.String()) {
			return z, nil
		}
	}
	return A4, fmt.Errorf("%q is no size of paper: there is %s", text, strings.Join(sizeNames[:], ", "))
}

func (z Size) form() form { return [...]form{A4: formA4, A5: formA5, Label: formLabel}[z] }

const (
	ink = 0.25 // the one line weight: two dots of a label printer
	pad = 1.6  // from a line to the text beside it
)

// A form is a size of paper with the frame on it and the columns a traveller is
// laid out in, all in millimetres. The columns of each row add up to the
// frame's width.
type form struct {
	pageW, pageH                   float64
	frameX, frameY, frameW, frameH float64
	legendH, footH                 float64 // of the foot on every page
	legendRows                     int
	powerW, careW                  float64 // its first two columns

	codeW    float64 // the code's column of the head
	qrFirst  float64 // side of the code on the first page, quiet zone included
	qrRest   float64 // and on the pages after it
	againW   float64 // the code in letters on the pages after the first
	orderW   float64
	promiseW float64
	loadW    float64
	massW    float64
	liftOwn  bool // the lifting note has a row of its own

	letterW, outlineW, itemW, metalW, countW   float64 // a lot's heading
	stageW, lookW, goodW, signedW, timeW       float64 // its route; lookW is the rest
	customerSize, dateSize, figures, routeSize float64 // points; routeSize is what a step says
}

var formA4 = form{
	pageW: 210, pageH: 297, frameX: 10, frameY: 9, frameW: 190, frameH: 275, legendH: 6, legendRows: 1, footH: 18, powerW: 62, careW: 82,
	codeW: 46, qrFirst: 42, qrRest: 30, againW: 70, orderW: 22, promiseW: 42, loadW: 42, massW: 32,
	letterW: 11, outlineW: 34, itemW: 80, metalW: 37, countW: 28,
	stageW: 38, lookW: 57, goodW: 11.5, signedW: 31, timeW: 30,
	customerSize: large, dateSize: large, figures: huge, routeSize: normal,
}

var formA5 = form{
	pageW: 148, pageH: 210, frameX: 7, frameY: 6.5, frameW: 134, frameH: 191.5, legendH: 7.6, legendRows: 2, footH: 21, powerW: 40, careW: 62,
	codeW: 40, qrFirst: 37, qrRest: 30, againW: 46, orderW: 17, promiseW: 33, loadW: 40, massW: 26, liftOwn: true,
	letterW: 9, outlineW: 26, itemW: 52, metalW: 28, countW: 19,
	stageW: 29, lookW: 33, goodW: 11, signedW: 23, timeW: 18,
	customerSize: strong, dateSize: strong, figures: 18, routeSize: 8,
}

var formLabel = form{pageW: 100, pageH: 150, frameX: 3, frameY: 2.5, frameW: 94, frameH: 139, figures: 20}

// bodyEnd is where the foot of a page begins.
func (f form) bodyEnd() float64 { return f.frameY + f.frameH - f.footH - f.legendH }
