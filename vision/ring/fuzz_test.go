package ring

import (
	"encoding/binary"
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
	"halocue/vision/frame"
)

// fuzzFrame makes a frame of any size up to 159 x 159 from any bytes, repeated
// where they do not suffice; deep ones have 16 bits a pixel.
func fuzzFrame(width, height uint8, deep bool, pix []byte) *frame.Frame {
	f := frame.New(int(width)%160, int(height)%160)
	f.White = 255
	if deep {
		f.White = 65535
	}
	for i := range f.Pix {
		switch {
		case len(pix) < 2:
		case deep:
			at := 2 * i % (len(pix) - 1)
			f.Pix[i] = float32(binary.LittleEndian.Uint16(pix[at:]))
		default:
			f.Pix[i] = float32(pix[i%len(pix)])
		}
	}
	return f
}

func FuzzMeter(f *testing.F) {
	disc := make([]byte, 120*120)
	for i := range disc {
		x, y := float64(i%120-60), float64(i/120-60)
		disc[i] = byte(8 + i%3)
		if d := math.Hypot(x, y); d < 40 && math.Hypot(x-2, y) > 10 {
			disc[i] += 150
		}
	}
	f.Add(uint8(120), uint8(120), false, true, disc)
	for _, p := range photographs(f) {
		g := p.load(f)
		if g.Width > 255 {
			continue // more than the fuzzer draws
		}
		deep := make([]byte, 0, 2*len(g.Pix))
		for _, v := range g.Pix {
			deep = binary.LittleEndian.AppendUint16(deep, uint16(min(max(v, 0), 65535)))
		}
		f.Add(uint8(g.Width), uint8(g.Height), true, false, deep)
	}
	f.Add(uint8(60), uint8(120), true, false, disc)
	f.Add(uint8(0), uint8(3), false, false, []byte{})
	f.Add(uint8(24), uint8(24), true, true, []byte{255, 0, 255})
	f.Add(uint8(150), uint8(150), false, true, []byte{255})
	f.Fuzz(func(t *testing.T, width, height uint8, deep, known bool, pix []byte) {
		c := Config{Telescope: optics.Telescope{Aperture: 200, FocalLength: 1000}}
		if known {
			c.Telescope.Secondary, c.PixelMM = 50, 0.003
		}
		m := NewMeter(c)
		g := fuzzFrame(width, height, deep, pix)
		sound(t, g, m.Track(g))
		sound(t, g, m.Track(g)) // where it followed, it starts from there
		sound(t, g, m.Measure(g))
	})
}

// sound checks what holds of every measurement.
func sound(t *testing.T, f *frame.Frame, m Measurement) {
	t.Helper()
	if m.Found != (m.Why == "") {
		t.Fatalf("found %v, but why %q", m.Found, m.Why)
	}
	finite := func(name string, v float64, limit float64) {
		if !(math.Abs(v) <= limit) {
			t.Fatalf("%s is %v, of a frame of %d x %d: %+v", name, v, f.Width, f.Height, m)
		}
	}
	side := float64(max(f.Width, f.Height))
	for name, v := range map[string]r2.Vec{"star": m.Star, "offset": m.Offset, "coma": m.Coma, "sigma": m.Sigma} {
		finite(name, v.X, 10*side)
		finite(name, v.Y, 10*side)
	}
	finite("ring radius", m.Ring.Radius, 5*side)
	finite("shadow radius", m.Shadow.Radius, m.Ring.Radius)
	finite("ring x", m.Ring.X, 5*side)
	finite("ring y", m.Ring.Y, 5*side)
	finite("level", m.Level-0.5, 0.5)
	finite("clipped", m.Clipped-0.5, 0.5)
	if m.Found && !(m.Sigma.X > 0 && m.Sigma.Y > 0) {
		t.Fatalf("sigma %v", m.Sigma)
	}
	if m.Found && !(m.Ring.Radius > 0 && m.Shadow.Radius > 0) {
		t.Fatalf("ring %v, shadow %v", m.Ring, m.Shadow)
	}
}
