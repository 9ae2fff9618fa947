package faults

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
	"slices"

	"halocue/vision/frame"
	"halocue/vision/robust"
)

// dark is the grey of the sky in a frame, from a few of its pixels.
func dark(f *frame.Frame) float32 {
	var p []float32
	for i := 0; i < len(f.Pix); i += 997 {
		p = append(p, f.Pix[i])
	}
	return robust.Quickselect(p, len(p)/4)
}

// dim reduces the light above the sky to the given part.
func dim(f *frame.Frame, part float64) {
	sky := dark(f)
	for i, v := range f.Pix {
		f.Pix[i] = min(sky+float32(part)*(v-sky), f.White)
	}
}

// shift moves the picture so many pixels to the right, and fills the left with sky.
func shift(f *frame.Frame, by int) {
	sky := dark(f)
	for y := range f.Height {
		row := f.Pix[y*f.Width : (y+1)*f.Width]
		by := min(by, f.Width)
		copy(row[by:], slices.Clone(row[:f.Width-by]))
		for x := range by {
			row[x] = sky
		}
	}
}

// another adds the ring of another star at (x, y), px, evenly lit to a level of the
// clipping level, its edges two pixels soft.
func another(f *frame.Frame, x, y, radius, level float64) {
	x0, x1 := max(0, int(x-radius-5)), min(f.Width, int(x+radius+5))
	y0, y1 := max(0, int(y-radius-5)), min(f.Height, int(y+radius+5))
	for j := y0; j < y1; j++ {
		for i := x0; i < x1; i++ {
			r := math.Hypot(float64(i)-x, float64(j)-y)
			lit := math.Erfc((r-radius)/2) / 2 * math.Erfc((0.25*radius-r)/2) / 2
			f.Pix[j*f.Width+i] = min(f.Pix[j*f.Width+i]+float32(level*lit)*f.White, f.White)
		}
	}
}

// blur smooths by a box of 2n+1 pixels, twice each way, as dew does in the middle.
func blur(f *frame.Frame, n int) {
	for range 2 * min(n, 1) {
		for y := range f.Height {
			smooth(f.Pix[y*f.Width:], f.Width, 1, n)
		}
		for x := range f.Width {
			smooth(f.Pix[x:], f.Height, f.Width, n)
		}
	}
}

// smooth takes the mean over 2n+1 neighbours along a line of pixels.
func smooth(pix []float32, length, step, n int) {
	line := make([]float32, length)
	for i := range line {
		line[i] = pix[i*step]
	}
	at := func(i int) float32 { return line[min(max(i, 0), length-1)] }
	sum := float32(0)
	for i := -n; i <= n; i++ {
		sum += at(i)
	}
	for i := range line {
		pix[i*step] = sum / float32(2*n+1)
		sum += at(i+n+1) - at(i-n)
	}
}

// jpegOf is the frame as a camera would send it.
func jpegOf(f *frame.Frame) []byte {
	img := image.NewGray(image.Rect(0, 0, f.Width, f.Height))
	for i, v := range f.Pix {
		img.Pix[i] = byte(255 * v / f.White)
	}
	var b bytes.Buffer
	_ = jpeg.Encode(&b, img, &jpeg.Options{Quality: 92}) // a buffer takes everything
	return b.Bytes()
}

// damage keeps the beginning and the end of a JPEG, and half of what is between.
func damage(picture []byte) []byte {
	return append(picture[:len(picture)/2:len(picture)/2], picture[len(picture)-2:]...)
}
