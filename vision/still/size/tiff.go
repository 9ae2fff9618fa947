package size

import (
	"bytes"
	"compress/lzw"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
)

// Tags of TIFF 6.0 that say how large something is.
const (
	tagWidth       = 256
	tagHeight      = 257
	tagBits        = 258
	tagCompression = 259
	tagOffsets     = 273
	tagSamples     = 277
	tagRows        = 278 // of a strip
	tagCounts      = 279
	tagTileWidth   = 322
	tagTileHeight  = 323
	tagTileOffsets = 324
	tagTileCounts  = 325
)

// directory is the first image file directory of a TIFF file.
type directory struct {
	data  []byte
	order binary.ByteOrder
	at    map[uint16]int // where the entry of a tag stands
}

// widths are the bytes of a value by its type; 0: no number that is a size.
var widths = map[uint16]int{1: 1, 3: 2, 4: 4}

// values are a tag's, of which there may be at most most.
func (d directory) values(tag uint16, most int) ([]uint32, error) {
	at, ok := d.at[tag]
	if !ok {
		return nil, nil
	}
	width, n := widths[d.order.Uint16(d.data[at+2:])], int64(d.order.Uint32(d.data[at+4:]))
	if width == 0 || n > int64(most) {
		return nil, errCut
	}
	from := int64(at) + 8
	if n*int64(width) > 4 {
		from = int64(d.order.Uint32(d.data[at+8:]))
	}
	if from+n*int64(width) > int64(len(d.data)) {
		return nil, errCut
	}
	list := make([]uint32, n)
	for i := range list {
		p := d.data[from+int64(i*width):]
		switch width {
		case 1:
			list[i] = uint32(p[0])
		case 2:
			list[i] = uint32(d.order.Uint16(p))
		default:
			list[i] = d.order.Uint32(p)
		}
	}
	return list, nil
}

// first is the first value of a tag, else otherwise.
func (d directory) first(tag uint16, otherwise int) (int, error) {
	list, err := d.values(tag, MaxPixels)
	if err != nil || len(list) == 0 {
		return otherwise, err
	}
	return int(list[0]), nil
}

func openTIFF(data []byte) (directory, error) {
	d := directory{data: data, order: binary.LittleEndian, at: map[uint16]int{}}
	if len(data) < 8 {
		return d, errCut
	}
	if data[0] == 'M' {
		d.order = binary.BigEndian
	}
	at := int64(d.order.Uint32(data[4:]))
	if at+2 > int64(len(data)) {
		return d, errCut
	}
	n := int64(d.order.Uint16(data[at:]))
	if at+2+12*n > int64(len(data)) {
		return d, errCut
	}
	for i := range n {
		entry := int(at + 2 + 12*i)
		tag := d.order.Uint16(data[entry:])
		if _, twice := d.at[tag]; twice {
			return d, errors.New("its header names one thing twice; save it anew as PNG or FITS")
		}
		d.at[tag] = entry
		// Type and number of what is no size must not ask for memory either.
		if int64(d.order.Uint32(data[entry+4:])) > int64(len(data)) {
			return d, errCut
		}
	}
	return d, nil
}

// TIFF checks a TIFF file. Where its rows in one strip are said to be more than
// there are, which is allowed, it corrects that in data: the decoder makes room for
// as many as are said.
func TIFF(data []byte) error {
	d, err := openTIFF(data)
	if err != nil {
		return err
	}
	var w, h, samples, bits, compression, rows, tileW, tileH int
	for _, v := range []struct {
		to        *int
		tag       uint16
		otherwise int
	}{
		{&w, tagWidth, 0}, {&h, tagHeight, 0}, {&samples, tagSamples, 1}, {&bits, tagBits, 1}, {&compression, tagCompression, 1},
		{&rows, tagRows, 1<<32 - 1}, {&tileW, tagTileWidth, 0}, {&tileH, tagTileHeight, 0},
	} {
		if *v.to, err = d.first(v.tag, v.otherwise); err != nil {
			return err
		}
	}
	if err := Check(w, h); err != nil {
		return err
	}
	depth := 1 // as the decoder keeps it: grey, or four samples
	if samples > 1 {
		depth = 4
	}
	if bits > 8 {
		depth *= 2
	}
	blockW, blockH, offsets, counts := w, min(rows, h), uint16(tagOffsets), uint16(tagCounts)
	if tileW > 0 || tileH > 0 {
		blockW, blockH, offsets, counts = tileW, tileH, tagTileOffsets, tagTileCounts
		if blockW < 1 || blockH < 1 || blockW > w+(1<<12) || blockH > h+(1<<12) {
			return fmt.Errorf("its tiles are of %d x %d pixels, and it is of %d x %d; save it anew as PNG or FITS", blockW, blockH, w, h)
		}
	} else if rows > h {
		if !d.setRows(h) {
			return errors.New("it does not say how many rows a strip has; save it anew as PNG or FITS")
		}
	}
	if blockH < 1 {
		return errCut
	}
	if compression == 1 {
		return Memory(len(data), w, h, depth)
	}
	// The decoder unpacks a block to at most 8 bytes a pixel, or twice that while it
	// makes room: where that is too much, what it will be is found first.
	block := 16 * int64(blockW) * int64(blockH)
	if int64(len(data))+int64(w)*int64(h)*int64(depth+4)+block <= maxMemory {
		return nil
	}
	exact := (int64(blockW)*int64(max(samples, 1))*int64(bits) + 7) / 8 * int64(blockH)
	if need := int64(len(data)) + int64(w)*int64(h)*int64(depth+4) + 2*exact; need > maxMemory {
		return fmt.Errorf("%d x %d pixels packed like this need %d MB of memory, more than the %d MB that a picture may take; crop it round the star",
			w, h, need>>20, maxMemory>>20)
	}
	return d.blocks(offsets, counts, compression, exact)
}

// setRows writes the rows of a strip into the file; false where it says nothing of them.
func (d directory) setRows(rows int) bool {
	at, ok := d.at[tagRows]
	if !ok {
		return false
	}
	switch d.order.Uint16(d.data[at+2:]) {
	case 3:
		if rows > 0xffff {
			return false
		}
		d.order.PutUint16(d.data[at+8:], uint16(rows))
	case 4:
		d.order.PutUint32(d.data[at+8:], uint32(rows))
	default:
		return false
	}
	return true
}

// blocks unpacks each block into nothing, and refuses one that gives more than exact bytes.
func (d directory) blocks(offsets, counts uint16, compression int, exact int64) error {
	from, err := d.values(offsets, MaxPixels)
	if err != nil {
		return err
	}
	long, err := d.values(counts, MaxPixels)
	if err != nil {
		return err
	}
	for i := range min(len(from), len(long)) {
		end := int64(from[i]) + int64(long[i])
		if end > int64(len(d.data)) {
			return errCut
		}
		packed := bytes.NewReader(d.data[from[i]:end])
		var r io.Reader
		switch compression {
		case 5:
			r = lzw.NewReader(packed, lzw.MSB, 8)
		case 8, 32946:
			if r, err = zlib.NewReader(packed); err != nil {
				return errCut
			}
		default: // PackBits gives at most 64 bytes for one; fax coding does not get here with 8 bits
			if end-int64(from[i]) > exact {
				return errCut
			}
			continue
		}
		n, _ := io.Copy(io.Discard, io.LimitReader(r, exact+1)) // damage is for the decoder to tell
		if n > exact {
			return errors.New("it unpacks to more than its header says; save it anew as PNG or FITS")
		}
	}
	return nil
}
