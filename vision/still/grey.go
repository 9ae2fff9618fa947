package still

import (
	"image"
	"image/color"

	"halocue/vision/frame"
	"halocue/vision/still/fits"
)

// burnt is the fraction of White from which a sample counts as burnt out: below
// 1, because a 12-bit camera in a 16-bit file clips at 4095*16 = 65520.
const burnt = 0.995

// The weights of red, green and blue in grey: ITU-R BT.601, which is also what
// JPEG's luma (JFIF 1.02) and OpenCV's BGR-to-grey use, so that one camera gives
// the same grey by whichever way its frames come in.
const (
	red   = 0.299
	green = 0.587
	blue  = 0.114
)

// Grey reduces img to grey in f, reusing f's pixels where they suffice, and sets
// White to 255 or 65535 by img's depth. Transparent means black.
//
// A pixel burnt out in red, green or blue is burnt out: it gets White, since its
// grey is not to be trusted either. (JPEG's luma alone does not tell.)
func Grey(f *frame.Frame, img image.Image) {
	b := img.Bounds()
	f.Resize(b.Dx(), b.Dy())
	f.White = 255
	switch m := img.(type) {
	case *image.Gray:
		bytesToGrey(f, m.Pix, m.Stride)
	case *image.YCbCr:
		bytesToGrey(f, m.Y[m.YOffset(b.Min.X, b.Min.Y):], m.YStride)
	case *image.Gray16:
		f.White = 65535
		for y := range f.Height {
			row := m.Pix[y*m.Stride:]
			out := f.Pix[y*f.Width:][:f.Width]
			for x := range out {
				out[x] = float32(uint16(row[2*x])<<8 | uint16(row[2*x+1]))
			}
		}
	default:
		anyToGrey(f, img)
	}
}

// bytesToGrey copies rows of 8-bit samples.
func bytesToGrey(f *frame.Frame, pix []byte, stride int) {
	for y := range f.Height {
		row := pix[y*stride:][:f.Width]
		out := f.Pix[y*f.Width:][:len(row)]
		for x, v := range row {
			out[x] = float32(v)
		}
	}
}

// anyToGrey takes every other kind of image through its 16-bit colours.
func anyToGrey(f *frame.Frame, img image.Image) {
	scale := float32(1.0 / 257) // an 8-bit v reads as 257 v
	switch img.ColorModel() {
	case color.RGBA64Model, color.NRGBA64Model, color.Gray16Model, color.Alpha16Model:
		scale, f.White = 1, 65535
	}
	b := img.Bounds()
	at := func(x, y int) color.RGBA64 {
		r, g, b, a := img.At(x, y).RGBA()
		return color.RGBA64{R: uint16(r), G: uint16(g), B: uint16(b), A: uint16(a)}
	}
	if m, ok := img.(image.RGBA64Image); ok {
		at = m.RGBA64At // no allocation per pixel
	}
	for y := range f.Height {
		for x := range f.Width {
			c := at(b.Min.X+x, b.Min.Y+y)
			f.Pix[y*f.Width+x] = mix(float32(c.R)*scale, float32(c.G)*scale, float32(c.B)*scale, f.White)
		}
	}
}

// mix is the grey of one colour; white 0 means that the ceiling is unknown.
func mix(r, g, b, white float32) float32 {
	if white > 0 && max(r, g, b) >= burnt*white {
		return white
	}
	return red*r + green*g + blue*b
}

// Row reduces one row of raw samples, bytes per pixel 1 (grey), 2 (grey, little
// endian) or 3 (blue, green, red), to grey in out.
func Row(out []float32, raw []byte, bytes int) {
	switch bytes {
	case 1:
		for x := range out {
			out[x] = float32(raw[x])
		}
	case 2:
		for x := range out {
			out[x] = float32(uint16(raw[2*x]) | uint16(raw[2*x+1])<<8)
		}
	case 3:
		for x := range out {
			p := raw[3*x : 3*x+3]
			out[x] = mix(float32(p[2]), float32(p[1]), float32(p[0]), 255)
		}
	}
}

// mosaic reduces a raw frame from behind a Bayer colour filter to grey, in
// place: each pixel becomes the mean of the 2x2 cell that starts at it, which
// holds one red, two green and one blue sample wherever it starts. So every
// layout (RGGB, GRBG, ...) is served alike, and no mosaic is left.
//
// The frame loses its last row and column. Thereby the scale stays (a pixel
// is a pixel) and so does the point of the sky at the frame's centre: both move
// by half a pixel. Neighbouring pixels now share noise: an error estimate that
// takes them as independent comes out up to a factor 2 too small.
//
// A cell with a burnt-out sample gets White. A frame of fewer than 2x2 pixels is
// left as it is.
func mosaic(f *frame.Frame) {
	w, h := f.Width, f.Height
	if w < 2 || h < 2 {
		return
	}
	for y := range h - 1 {
		for x := range w - 1 {
			a, b := f.Pix[y*w+x], f.Pix[y*w+x+1]
			c, d := f.Pix[(y+1)*w+x], f.Pix[(y+1)*w+x+1]
			v := (a + b + c + d) / 4
			if f.White > 0 && max(a, b, c, d) >= burnt*f.White {
				v = f.White
			}
			// Never behind the reader: index y*(w-1)+x <= y*w+x.
			f.Pix[y*(w-1)+x] = v
		}
	}
	f.Resize(w-1, h-1)
}

// fromFITS reduces a FITS image, whose pixels become f's. NaN and infinity become 0. Where there are
// negative values (a bias was taken off), everything is lifted so that the
// lowest is 0: cutting them would bend the noise of a dark sky upwards.
func fromFITS(f *frame.Frame, img *fits.Image) {
	n := img.Width * img.Height
	f.Width, f.Height, f.Pix, f.White = img.Width, img.Height, img.Pix[:n], img.White
	if img.Planes >= 3 {
		for i, v := range f.Pix {
			f.Pix[i] = mix(v, img.Pix[n+i], img.Pix[2*n+i], img.White)
		}
	}
	tidy(f)
	if img.BottomUp {
		flip(f)
	}
	if img.Mosaic && img.Planes < 3 {
		mosaic(f)
	}
}

// tidy keeps the promise of frame.Frame: finite, and 0 or more.
func tidy(f *frame.Frame) {
	var low, high float32
	for _, v := range f.Pix {
		if v-v == 0 { // finite
			low, high = min(low, v), max(high, v)
		}
	}
	// A lone absurd value must not drown the rest: then the rule is to cut.
	if -low > high {
		low = 0
	}
	if f.White > 0 {
		f.White -= low
	}
	for i, v := range f.Pix {
		if v-v != 0 {
			v = 0
		} else {
			v = max(v-low, 0)
		}
		f.Pix[i] = v
	}
}

func flip(f *frame.Frame) {
	for top, bottom := 0, f.Height-1; top < bottom; top, bottom = top+1, bottom-1 {
		a, b := f.Pix[top*f.Width:][:f.Width], f.Pix[bottom*f.Width:][:f.Width]
		for x := range a {
			a[x], b[x] = b[x], a[x]
		}
	}
}
