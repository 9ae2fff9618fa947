// Package size reads what the header of a PNG, JPEG or TIFF file claims, so that
// what a decoder would need is known, and refused where it is too much, before a
// decoder sees the file. It holds the bounds on one picture.
package size

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
)

// Bounds on one picture from outside.
const (
	// MaxPixels is of a picture in a file that a person names. In grey, 4 bytes a pixel,
	// that is 128 MB.
	MaxPixels = 32 << 20
	// MaxLive is of a picture that a camera, a pipe or a server sends: of these two
	// are held at a time.
	MaxLive = 16 << 20
	// maxVideo is of a picture in a video file: a decoder holds two dozen.
	maxVideo = 4 << 20
	// MaxFile is of its file, and of what a packed file unpacks to, bytes.
	MaxFile = 128 << 20
	// maxMemory is of its file, what its decoder needs, and its pixels in grey
	// together, bytes. With the rest of the program it stays below 300 MB.
	maxMemory = 224 << 20
	// maxScans is of a progressive JPEG; the usual encoders write 10.
	maxScans = 32
)

// Check refuses a picture of w by h pixels that is empty or too large.
func Check(w, h int) error {
	if w < 1 || h < 1 {
		return fmt.Errorf("%d x %d pixels is no picture; take another", w, h)
	}
	if w > MaxPixels/h {
		return fmt.Errorf("%d x %d pixels is more than the %d million that are taken; crop it round the star", w, h, MaxPixels/1_000_000)
	}
	return nil
}

// Live refuses a picture of w by h pixels that is larger than what is sent may be.
func Live(w, h int) error {
	if w > 0 && h > 0 && w > MaxLive/h {
		return fmt.Errorf("%d x %d pixels is more than the %d million that are taken from a camera; let it bin its pixels, or send a part of the picture", w, h, MaxLive/1_000_000)
	}
	return Check(w, h)
}

// Video refuses a picture of w by h pixels that is larger than those of a video may be.
func Video(w, h int) error {
	if w > 0 && h > 0 && w > maxVideo/h {
		return fmt.Errorf("%d x %d pixels is more than the %d million that are taken of a video", w, h, maxVideo/1_000_000)
	}
	return Check(w, h)
}

// Memory refuses a picture whose file, decoder and grey pixels need too much:
// file bytes, and for each of w by h pixels depth bytes and 4 of grey.
func Memory(file, w, h, depth int) error {
	if need := int64(file) + int64(w)*int64(h)*int64(depth+4); need > maxMemory {
		return fmt.Errorf("%d x %d pixels of this kind need %d MB of memory, more than the %d MB that a picture may take; crop it round the star",
			w, h, need>>20, maxMemory>>20)
	}
	return nil
}

var errCut = errors.New("its header is damaged or cut short; copy it again, or save it anew as PNG or FITS")

// PNG checks a PNG file.
func PNG(data []byte) error {
	// The header is the first chunk (PNG 1.2, 11.2.2).
	if len(data) < 33 || string(data[12:16]) != "IHDR" {
		return errCut
	}
	w, h := binary.BigEndian.Uint32(data[16:]), binary.BigEndian.Uint32(data[20:])
	if w > 1<<30 || h > 1<<30 {
		return Check(1<<30, 1<<30)
	}
	if err := Check(int(w), int(h)); err != nil {
		return err
	}
	depth := map[byte]int{0: 1, 2: 4, 3: 1, 4: 4, 6: 4}[data[25]] // as image/png keeps them: grey, RGB, palette, with transparency
	if data[25] == 0 && transparent(data) {
		depth = 4
	}
	if data[24] == 16 {
		depth *= 2
	}
	if data[28] != 0 { // interlaced: the largest pass beside the whole
		depth += (depth + 1) / 2
	}
	return Memory(len(data), int(w), int(h), depth)
}

// transparent reports whether a PNG file names a transparent grey, which makes the
// decoder keep four samples a pixel.
func transparent(data []byte) bool {
	for p := 8; p+12 <= len(data); {
		switch string(data[p+4 : p+8]) {
		case "tRNS":
			return true
		case "IDAT":
			return false
		}
		p += 12 + int(binary.BigEndian.Uint32(data[p:]))
	}
	return false
}

// JPEG checks a JPEG file (ITU-T T.81 annex B), and returns its size.
func JPEG(data []byte) (w, h int, err error) {
	if len(data) < 4 || data[0] != 0xff || data[1] != 0xd8 {
		return 0, 0, errCut
	}
	components, scans, progressive, blocks, most := 0, 0, false, 0, 1
	for p := 2; ; {
		next := bytes.IndexByte(data[p:], 0xff) // past entropy-coded data, and stray bytes
		if next < 0 {
			break
		}
		p += next
		for p < len(data) && data[p] == 0xff {
			p++
		}
		if p >= len(data) {
			break
		}
		code := data[p]
		p++
		if code == 0 || code == 1 || code >= 0xd0 && code <= 0xd8 {
			continue
		}
		if code == 0xd9 {
			break
		}
		if p+2 > len(data) {
			break
		}
		n := int(data[p])<<8 | int(data[p+1])
		if n < 2 || p+n > len(data) {
			break
		}
		segment := data[p+2 : p+n]
		p += n
		switch {
		case code >= 0xc0 && code <= 0xcf && code != 0xc4 && code != 0xc8 && code != 0xcc: // a frame header
			if components > 0 || len(segment) < 6 {
				return 0, 0, errors.New("it has more than one frame, or a damaged one; take or copy the picture again")
			}
			h, w, components = int(segment[1])<<8|int(segment[2]), int(segment[3])<<8|int(segment[4]), int(segment[5])
			progressive = code == 0xc2
			if components < 1 || components > 4 || len(segment) < 6+3*components {
				return 0, 0, errCut
			}
			for c := range components {
				across, down := int(segment[7+3*c]>>4), int(segment[7+3*c]&15)
				if across < 1 || across > 4 || down < 1 || down > 4 {
					return 0, 0, errCut
				}
				blocks += across * down
				most = max(most, across*down)
			}
		case code == 0xda:
			scans++
			if scans > maxScans {
				return 0, 0, fmt.Errorf("it has more than %d scans; save it anew as baseline JPEG, or as PNG", maxScans)
			}
		}
	}
	if components == 0 {
		return 0, 0, errCut
	}
	if err := Check(w, h); err != nil {
		return 0, 0, err
	}
	depth := 1 // of the planes together, against the finest
	if components > 1 {
		depth = (blocks + most - 1) / most
	}
	if progressive { // and the coefficients
		depth *= 5
	}
	return w, h, Memory(len(data), w, h, depth)
}
