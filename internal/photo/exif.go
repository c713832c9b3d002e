package photo

import (
	"bytes"
	"encoding/binary"
)

// exifHeader stands before the TIFF structure in a JPEG's segment (CIPA DC-008, 4.7.2).
const exifHeader = "Exif\x00\x00"

// orientation is which way up a camera was held: the tag 0x0112 of the first directory (CIPA DC-008, 4.6.4 A; TIFF 6.0,
// section 8). What can't be read is 1: as it lies.
func orientation(tiff []byte) int {
	const (
		tag   = 0x0112
		short = 3
		entry = 12 // bytes of one
	)
	var order binary.ByteOrder = binary.BigEndian
	switch {
	case bytes.HasPrefix(tiff, []byte("II*\x00")):
		order = binary.LittleEndian
	case !bytes.HasPrefix(tiff, []byte("MM\x00*")):
		return 1
	}
	at := func(offset uint32, n int) []byte {
		if uint64(offset)+uint64(n) > uint64(len(tiff)) {
			return nil
		}
		return tiff[offset : int(offset)+n]
	}
	start := at(4, 4)
	if start == nil {
		return 1
	}
	directory := order.Uint32(start)
	count := at(directory, 2)
	if count == nil {
		return 1
	}
	for i := range uint32(order.Uint16(count)) {
		e := at(directory+2+i*entry, entry)
		if e == nil {
			return 1
		}
		if order.Uint16(e) != tag || order.Uint16(e[2:]) != short {
			continue
		}
		if v := int(order.Uint16(e[8:])); v >= 1 && v <= 8 {
			return v
		}
		return 1
	}
	return 1
}
