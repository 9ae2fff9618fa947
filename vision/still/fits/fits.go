// Package fits reads the first image of a FITS file (Flexible Image Transport
// System, IAU FITS standard 4.0) through the cfitsio library. It is the only
// part of reading pictures that needs cgo; a build without says so in an error.
package fits

import "errors"

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

// ErrNoCgo says that this build cannot read FITS.
var ErrNoCgo = errors.New("this build has no FITS reader (built without cgo); convert the picture to 16-bit PNG, or build with cgo and libcfitsio-dev")
