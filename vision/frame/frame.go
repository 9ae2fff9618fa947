// Package frame holds one picture from a camera, reduced to linear grey.
//
// Cameras and the simulated telescope deliver it, and the ring measurement takes it;
// it knows neither of them.
package frame

import "time"

// Frame is one grey picture. Pixel (x, y) is Pix[y*Width+x]; x runs to the
// right, y down, and (0, 0) is the CENTRE of the first pixel.
type Frame struct {
	Width, Height int

	// Pix holds Width*Height samples in the camera's own units (ADU), linear
	// in light, 0 or more. Never NaN or infinite: a source replaces those by 0.
	Pix []float32

	// White is the value at which the camera clips (255 for 8-bit, 65535 for
	// 16-bit files, ...). 0 means unknown.
	White float32

	// Seq counts the frames of a source from 0, dropped ones included.
	Seq uint64

	// T is the time since the source's first frame. It never runs backwards.
	T time.Duration

	// JPEG is the picture as the camera sent it, or nil where it sends something else.
	// It may not be changed, and lasts as long as Pix.
	JPEG []byte

	// Develop makes the other fields of JPEG, where that is still to be done: until then
	// Width, Height, Pix and White say nothing. nil: it is done. Only Newest gets such
	// frames, and develops what it hands on. An error is as that of a source.
	Develop func(*Frame) error

	// Name tells a person where the frame came from: a file name, or "".
	Name string
}

// New returns a black frame of the given size in pixels.
func New(width, height int) *Frame {
	return &Frame{Width: width, Height: height, Pix: make([]float32, width*height)}
}

// Resize makes f a frame of the given size, reusing its pixels where they
// suffice. The content is undefined afterwards.
func (f *Frame) Resize(width, height int) {
	n := width * height
	if cap(f.Pix) < n {
		f.Pix = make([]float32, n)
	}
	f.Width, f.Height, f.Pix = width, height, f.Pix[:n]
}

// At returns the brightness between pixels, by bilinear interpolation; ok is false off the
// frame.
func (f *Frame) At(x, y float64) (v float64, ok bool) {
	if !(x >= 0 && y >= 0 && x <= float64(f.Width-1) && y <= float64(f.Height-1)) || f.Width < 2 || f.Height < 2 {
		return 0, false
	}
	i, j := min(int(x), f.Width-2), min(int(y), f.Height-2)
	u, w := x-float64(i), y-float64(j)
	p, q := f.Pix[j*f.Width+i:][:2], f.Pix[(j+1)*f.Width+i:][:2]
	return (1-w)*((1-u)*float64(p[0])+u*float64(p[1])) + w*((1-u)*float64(q[0])+u*float64(q[1])), true
}

// Average fills f, whose size stays, with the means of squares of side pixels of g, from
// (x0, y0) on.
func (f *Frame) Average(g *Frame, x0, y0, side int) {
	scale := 1 / float32(side*side)
	for j := range f.Height {
		out := f.Pix[j*f.Width:][:f.Width]
		if side == 1 {
			copy(out, g.Pix[(y0+j)*g.Width+x0:])
			continue
		}
		clear(out)
		for y := y0 + j*side; y < y0+(j+1)*side; y++ {
			row := g.Pix[y*g.Width+x0:][:f.Width*side]
			for i := range out {
				for _, v := range row[i*side : (i+1)*side] {
					out[i] += v
				}
			}
		}
		for i := range out {
			out[i] *= scale
		}
	}
}

// Centre returns the frame's centre in pixels, ((w-1)/2, (h-1)/2).
func (f *Frame) Centre() (x, y float64) {
	return float64(f.Width-1) / 2, float64(f.Height-1) / 2
}
