package ring

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"halocue/internal/optics"
	"halocue/vision/frame"
)

// scene draws light on a sky of 6 ADU, with noise of a grey step, clipped.
func scene(light func(x, y float64) float64) *frame.Frame {
	f := frame.New(320, 240)
	f.White = 255
	for i := range f.Pix {
		noise := float64((i*7919+i/320*104729)%13)/6 - 1
		v := 6 + noise + light(float64(i%320), float64(i/320))
		f.Pix[i] = float32(math.Round(min(max(v, 0), 255)))
	}
	return f
}

// annulus is a ring with a shadow of a quarter, fringes, and edges 2 px soft.
func annulus(x, y, cx, cy, r, light float64) float64 {
	d := math.Hypot(x-cx, y-cy)
	soft := func(e float64) float64 { return 1 / (1 + math.Exp(-2*e)) }
	return light * (1 + 0.1*math.Cos(0.8*d)) * soft(r-d) * soft(d-r/4)
}

// Each reason for having nothing to say has a scene that shows it.
func TestEachReasonIsGiven(t *testing.T) {
	ring := func(x, y float64) float64 { return annulus(x, y, 160, 120, 50, 120) }
	scenes := map[Why]func(x, y float64) float64{
		"":        ring,
		Dark:      func(x, y float64) float64 { return 0 },
		TooBright: func(x, y float64) float64 { return 300 },
		NoRing: func(x, y float64) float64 { // a hollow triangle
			d := 0.0
			for k := range 3 {
				sin, cos := math.Sincos(2 * math.Pi * float64(k) / 3)
				d = max(d, (x-160)*cos+(y-120)*sin)
			}
			if d < 15 || d > 50 {
				return 0
			}
			return 90 + 10*math.Cos(d)
		},
		Focused: func(x, y float64) float64 { return annulus(x, y, 160, 120, 5, 150) },
		NoShadow: func(x, y float64) float64 {
			return ring(x, y) + annulus(x, y, 160, 120, 16, 120) + 120/(1+math.Exp(2*(math.Hypot(x-160, y-120)-13)))
		},
		CutOff:  func(x, y float64) float64 { return annulus(x, y, 160, -20, 50, 120) },
		Clipped: func(x, y float64) float64 { return 20000 / (1 + math.Exp(1*(math.Hypot(x-160, y-120)-40))) },
		Faint:   func(x, y float64) float64 { return annulus(x, y, 160, 120, 50, 4.5) },
		Blurred: func(x, y float64) float64 { // moved 1.6 radii while it was exposed
			s := 0.0
			for k := range 41 {
				s += annulus(x, y, 100+float64(k)*2, 90+float64(k)*1.2, 50, 120) / 41
			}
			return s
		},
		TwoStars: func(x, y float64) float64 { return annulus(x, y, 120, 110, 45, 90) + annulus(x, y, 178, 135, 45, 80) },
	}
	for why, light := range scenes {
		f := scene(light)
		for name, look := range map[string]func(*Meter, *frame.Frame) Measurement{"Track": (*Meter).Track, "Measure": (*Meter).Measure} {
			m := look(whyMeter(0.003), f)
			if m.Why != why || m.Found != (why == "") {
				t.Errorf("%s: found %v, why %q, want %q", name, m.Found, m.Why, why)
			}
		}
	}
}

func whyMeter(pixel float64) *Meter {
	return NewMeter(Config{Telescope: optics.Telescope{Aperture: 200, FocalLength: 1000, Secondary: 50}, PixelMM: pixel})
}

// Each remark has a scene that calls for it, and the plain ring has but one.
func TestEachFlagIsRaised(t *testing.T) {
	at := func(cy, r, light float64) *frame.Frame {
		return scene(func(x, y float64) float64 { return annulus(x, y, 160, cy, r, light) })
	}
	for _, c := range []struct {
		frame *frame.Frame
		pixel float64
		want  []Flag
	}{
		{at(120, 80, 120), 0.003, []Flag{OneSide}},
		{at(120, 80, 290), 0.003, []Flag{OneSide, SomeClipped}},
		{at(40, 80, 120), 0.003, []Flag{OneSide, PartOff}},
		{at(120, 14, 120), 0.003, []Flag{OneSide, SmallRing}},
		{at(120, 80, 120), 0, []Flag{OneSide, PixelGuessed}},
	} {
		m := whyMeter(c.pixel).Track(c.frame)
		if !m.Found || !slices.Equal(m.Flags, c.want) {
			t.Errorf("found %v (%q), flags %q, want %q", m.Found, m.Why, m.Flags, c.want)
		}
	}
}

// Under cloud a frame may have a grey step or two, which look cut off at the top: it is
// dark, and no danger.
func TestDarkFramesAreNotFlooded(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	s, _ := cleanRing(t)
	for _, level := range []float64{3, 6, 10, 20, 40} {
		f := &frame.Frame{White: 255}
		f.Resize(640, 480)
		for i := range f.Pix {
			f.Pix[i] = float32(math.Round(max(0, level+0.2*rng.NormFloat64())))
		}
		if got := s.meter().Track(f); got.Found || got.Why == TooBright {
			t.Errorf("sky of %g: %+v", level, got)
		}
	}
}
