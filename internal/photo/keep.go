package photo

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"math"
)

// worst is the least quality anything is kept at; below it a smaller picture shows more. The better ones are tried from
// the best.
const worst = 60

var better = []int{84, 76, 68}

// keep writes a picture and its thumbnail anew. The encoder writes nothing but what is needed to see them.
func keep(p planes) (Kept, error) {
	picture, seen, err := into(p, MaxKept)
	if err != nil {
		return Kept{}, err
	}
	thumb, _, err := into(p.shorter(longestThumb), MaxThumb)
	if err != nil {
		return Kept{}, err
	}
	return Kept{Hash: HashOf(picture), JPEG: picture, Thumb: thumb, Width: seen.width, Height: seen.height}, nil
}

// into writes a picture as JPEG of at most so many bytes: as large as fits at the worst quality, then as good as fits.
func into(p planes, most int) ([]byte, planes, error) {
	for {
		least, err := p.jpeg(worst)
		if err != nil {
			return nil, p, err
		}
		if len(least) > most {
			p = p.shorter(int(0.95 * float64(max(p.width, p.height)) * math.Sqrt(float64(most)/float64(len(least)))))
			continue
		}
		for _, quality := range better {
			out, err := p.jpeg(quality)
			if err != nil || len(out) <= most {
				return out, p, err
			}
		}
		return least, p, nil
	}
}

// jpeg is the picture at a quality, from 1 to 100.
func (p planes) jpeg(quality int) ([]byte, error) {
	var out bytes.Buffer
	err := jpeg.Encode(&out, &image.YCbCr{
		Y: p.of[0], Cb: p.of[1], Cr: p.of[2], YStride: p.width, CStride: p.width,
		SubsampleRatio: image.YCbCrSubsampleRatio444, Rect: image.Rect(0, 0, p.width, p.height),
	}, &jpeg.Options{Quality: quality})
	if err != nil {
		return nil, fmt.Errorf("write a picture: %w", err)
	}
	return bytes.Clone(out.Bytes()), nil
}
