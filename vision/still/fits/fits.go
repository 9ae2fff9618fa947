// Package fits reads the first image of a FITS file (Flexible Image Transport
// System, IAU FITS standard 4.0). All headers are read and bounded here, before
// anything else sees the file, and so are the pixels of a plain image. Those of a
// tile-compressed one are unpacked by the cfitsio library, in a process of its own:
// that library trusts headers, and writes past its memory where they are wrong.
package fits

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"halocue/vision/still/size"
)

// Image is the first image in a file, in the file's physical units (BZERO and
// BSCALE applied). Plane p's pixel (x, y) is Pix[(p*Height+y)*Width+x]; y is in
// the order of storage. Undefined pixels are NaN.
type Image struct {
	Width, Height int
	Planes        int // 1 for grey, 3 for red, green, blue
	Pix           []float32

	// White is where the camera clips: the header's SATURATE (common practice,
	// no standard), else the top of an integer format; 0 where unknown.
	White float32

	// Mosaic: raw from behind a Bayer filter (BAYERPAT, common practice).
	Mosaic bool

	// BottomUp: the first row is the lowest (ROWORDER = 'BOTTOM-UP', common
	// practice). Without the keyword camera software stores the top row first.
	BottomUp bool
}

var (
	errShort   = errors.New("the FITS file ends too early; copy it again from the camera")
	errNoImage = errors.New("the FITS file holds no image; give one that does")
)

// Decode reads the first image of two dimensions in data, tile-compressed ones too.
// Pix of the answer is spare where that suffices. Bound refuses a picture that is too large.
func Decode(data []byte, spare []float32, bound func(w, h int) error) (*Image, error) {
	if len(data) == 0 {
		return nil, errors.New("the FITS file is empty; copy it again")
	}
	u, err := find(data)
	if err != nil {
		return nil, err
	}
	img, bitpix, err := u.image()
	if err != nil {
		return nil, err
	}
	if err := bound(img.Width, img.Height); err != nil {
		return nil, err
	}
	if err := size.Memory(len(data), img.Width, img.Height, 4*img.Planes-4); err != nil {
		return nil, err
	}
	n := img.Width * img.Height * img.Planes
	img.Pix = slices.Grow(spare[:0], n)[:n]
	if u.packed {
		return img, unpack(u, img)
	}
	return img, u.pixels(bitpix, img.Pix)
}

// find returns the first unit that is an image of two dimensions or more.
func find(data []byte) (*unit, error) {
	rest := data
	for range maxUnits {
		u, err := readUnit(rest, len(rest) == len(data))
		if err != nil {
			return nil, err
		}
		if u.picture() {
			if u.size > int64(len(rest)-u.head) {
				return nil, errShort
			}
			u.bytes = rest
			return u, nil
		}
		next := int64(u.head) + (u.size+block-1)/block*block
		if next >= int64(len(rest)) {
			if u.size > int64(len(rest)-u.head) {
				return nil, errShort
			}
			return nil, errNoImage
		}
		rest = rest[next:]
	}
	return nil, fmt.Errorf("the FITS file has no image in its first %d parts; save the image alone", maxUnits)
}

// image is what the header says of the picture, without its pixels, and the type of
// its numbers.
func (u *unit) image() (*Image, int, error) {
	prefix := ""
	if u.packed {
		prefix = "Z"
	}
	bitpix, err := u.whole(prefix+"BITPIX", -64, 64)
	if err != nil {
		return nil, 0, err
	}
	if !slices.Contains([]int64{8, 16, 32, 64, -32, -64}, bitpix) {
		return nil, 0, fmt.Errorf("the FITS file has numbers of %d bits, which the standard does not know; save it again", bitpix)
	}
	dims, err := u.dims(prefix + "NAXIS")
	if err != nil {
		return nil, 0, err
	}
	img := &Image{Planes: 1}
	for _, d := range dims {
		if d == 0 {
			return nil, 0, errNoImage
		}
	}
	img.Width, img.Height = int(dims[0]), int(dims[1])
	// A cube of three planes is colour by common practice; of any other, the
	// first plane is read.
	if len(dims) > 2 && dims[2] == 3 {
		img.Planes = 3
	}
	if err := size.Check(img.Width, img.Height); err != nil {
		return nil, 0, err
	}
	saturate, known := u.number("SATURATE")
	zero, _ := u.number("BZERO")
	scale, scaled := u.number("BSCALE")
	switch {
	case known && saturate > 0:
		img.White = float32(saturate)
	case scaled && scale != 1:
	case bitpix == 8 && zero == 0:
		img.White = 255
	case bitpix == 16 && zero == 0:
		img.White = 32767
	case bitpix == 16 && zero == 32768:
		img.White = 65535
	}
	img.Mosaic = u.text("BAYERPAT") != ""
	img.BottomUp = strings.EqualFold(u.text("ROWORDER"), "bottom-up")
	return img, int(bitpix), nil
}
