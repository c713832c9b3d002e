package pictures

import (
	"cmp"
	"image"
	"image/color"
	"slices"
)

// A shade is a colour of a picture and how many pixels have it.
type shade struct {
	rgb   [3]uint8
	count int
}

// reduce draws img with at most n colours, by dividing the cube of colours. The
// flat colours of a page stay what they are: a common one has a box of its own,
// and each box of the rest is shown by its commonest. What shines through is
// drawn as opaque.
func reduce(img image.Image, n int) *image.Paletted {
	bounds := img.Bounds()
	counts := map[[3]uint8]int{}
	for y := bounds.Min.Y; y < bounds.Max.Y; y++ {
		for x := bounds.Min.X; x < bounds.Max.X; x++ {
			counts[rgbAt(img, x, y)]++
		}
	}
	shades := make([]shade, 0, len(counts))
	for rgb, count := range counts {
		shades = append(shades, shade{rgb, count})
	}
	// Maps have no order, and the same picture must give the same file.
	slices.SortFunc(shades, func(a, b shade) int { return slices.Compare(a.rgb[:], b.rgb[:]) })

	palette, index := color.Palette{}, map[[3]uint8]uint8{}
	grounds, rest := common(shades, bounds.Dx()*bounds.Dy()/200, n/2)
	for _, box := range slices.Concat(grounds, cut(rest, n-len(grounds))) {
		most := slices.MaxFunc(box, func(a, b shade) int { return cmp.Compare(a.count, b.count) })
		palette = append(palette, color.RGBA{most.rgb[0], most.rgb[1], most.rgb[2], 0xff})
	}
	for _, s := range shades {
		index[s.rgb] = uint8(palette.Index(color.RGBA{s.rgb[0], s.rgb[1], s.rgb[2], 0xff}))
	}
	out := image.NewPaletted(image.Rect(0, 0, bounds.Dx(), bounds.Dy()), palette)
	for y := range bounds.Dy() {
		for x := range bounds.Dx() {
			out.SetColorIndex(x, y, index[rgbAt(img, bounds.Min.X+x, bounds.Min.Y+y)])
		}
	}
	return out
}

func rgbAt(img image.Image, x, y int) [3]uint8 {
	r, g, b, _ := img.At(x, y).RGBA()
	return [3]uint8{uint8(r >> 8), uint8(g >> 8), uint8(b >> 8)}
}

// common takes out the shades of more than least pixels, at most n of them, each
// as a box of its own.
func common(shades []shade, least, n int) (boxes [][]shade, rest []shade) {
	for _, s := range shades {
		if s.count > least && len(boxes) < n {
			boxes = append(boxes, []shade{s})
		} else {
			rest = append(rest, s)
		}
	}
	return boxes, rest
}

// cut divides shades into at most n boxes: again and again the box whose colours
// are farthest apart is divided in the middle of its longest edge, so that the
// few pixels of a mark keep a colour beside the many of the paper.
func cut(shades []shade, n int) [][]shade {
	if len(shades) == 0 {
		return nil
	}
	boxes := [][]shade{shades}
	for len(boxes) < n {
		widest, most, along := -1, 0, 0
		for i, box := range boxes {
			if edge, channel := longest(box); edge > most {
				widest, most, along = i, edge, channel
			}
		}
		if widest < 0 {
			break
		}
		box := boxes[widest]
		slices.SortStableFunc(box, func(a, b shade) int { return cmp.Compare(a.rgb[along], b.rgb[along]) })
		middle := (int(box[0].rgb[along]) + int(box[len(box)-1].rgb[along])) / 2
		at, _ := slices.BinarySearchFunc(box, middle+1, func(s shade, v int) int { return cmp.Compare(int(s.rgb[along]), v) })
		boxes[widest] = box[:at:at]
		boxes = append(boxes, box[at:])
	}
	return boxes
}

// longest is how far apart the colours of a box are in the channel where they
// are farthest, and which that is.
func longest(box []shade) (edge, channel int) {
	for c := range 3 {
		lo, hi := uint8(255), uint8(0)
		for _, s := range box {
			lo, hi = min(lo, s.rgb[c]), max(hi, s.rgb[c])
		}
		if int(hi)-int(lo) > edge {
			edge, channel = int(hi)-int(lo), c
		}
	}
	return edge, channel
}
