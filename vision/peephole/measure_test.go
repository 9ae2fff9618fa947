package peephole_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/simulate/indoors"
	"halocue/vision/frame"
	"halocue/vision/peephole"
)

// see draws a scene, and measures it.
func see(s indoors.Scene) (peephole.View, indoors.Truth) {
	tel := indoors.New(s)
	var f frame.Frame
	tel.Render(&f)
	return peephole.NewMeter(peephole.Config{Aperture: s.Aperture}).Measure(&f), tel.Truth()
}

const seeds = 8

// Every outline is found where the scene, which is traced and knows nothing of the
// measurement, has it. The mirror's and the secondary's are good to a fifth of a
// pixel; mark and spot agree with their own sigma.
func TestOutlinesAreWhereTheyAre(t *testing.T) {
	for seed := uint64(1); seed <= seeds; seed++ {
		s := indoors.Demo(seed)
		s.Turned, s.Twisted = r2.Scale(0.3, s.Turned), 0 // as the second step finds it
		v, tr := see(s)
		if !v.Found || !v.Whole || !v.Marked || !v.Reflected {
			t.Errorf("scene %d: %q, whole %v, marked %v, reflected %v", seed, v.Why, v.Whole, v.Marked, v.Reflected)
			continue
		}
		far := func(what string, a, b r2.Vec, most float64) {
			if d := r2.Norm(r2.Sub(a, b)); d > most {
				t.Errorf("scene %d: %s off by %.2f px, more than %.2f", seed, what, d, most)
			}
		}
		far("the mirror", v.Primary.Centre, tr.Primary, 0.2)
		far("the secondary", v.Secondary.Centre, tr.Secondary, 0.06*tr.Radius)
		far("mark to spot", r2.Sub(v.Spot, v.Mark), r2.Sub(tr.Reflection, tr.Mark), 5*v.Sigma)
		if math.Abs(v.Primary.Radius-tr.Radius) > 0.3 {
			t.Errorf("scene %d: the mirror's radius is %.2f, not %.2f", seed, v.Primary.Radius, tr.Radius)
		}
	}
}

// A mirror that the secondary cuts off, as it may be at the start, is known to be
// cut off, and found well enough to know which way it must go.
func TestCutOffMirror(t *testing.T) {
	for seed := uint64(1); seed <= seeds/2; seed++ {
		s := indoors.Demo(seed)
		s.Turned = r2.Scale(0.055/r2.Norm(s.Turned), s.Turned)
		v, tr := see(s)
		off := r2.Sub(tr.Primary, tr.Secondary)
		if r2.Norm(off) < tr.Rim-tr.Radius {
			continue
		}
		if !v.Found {
			t.Errorf("scene %d: %q", seed, v.Why)
			continue
		}
		if v.Whole {
			t.Errorf("scene %d: a mirror cut off by %.0f px is called whole", seed, r2.Norm(off)-tr.Rim+tr.Radius)
		}
		got := r2.Sub(v.Primary.Centre, v.Secondary.Centre)
		if cos := r2.Dot(got, off) / r2.Norm(got) / r2.Norm(off); cos < 0.95 {
			t.Errorf("scene %d: it is off by %v, measured %v", seed, off, got)
		}
	}
}

// What may be wrong by day, and what is said of it.
func TestReasons(t *testing.T) {
	for _, c := range []struct {
		what string
		make func(*indoors.Scene)
		why  peephole.Why
		is   func(peephole.View) bool
	}{
		{"no light", func(s *indoors.Scene) { s.Light.Level = 0.002 }, peephole.Dark, nil},
		{"the Sun", func(s *indoors.Scene) { s.Light.Level = 60 }, peephole.TooBright, nil},
		{"poor light", func(s *indoors.Scene) { s.Light.Level, s.Light.FullWell = 0.12, 4000 }, "",
			func(v peephole.View) bool { return v.Whole && v.Marked && v.Reflected }},
		{"uneven light", func(s *indoors.Scene) { s.Light.Uneven = 0.8 }, "",
			func(v peephole.View) bool { return v.Whole && v.Marked && v.Reflected }},
		{"no mark", func(s *indoors.Scene) { s.Mark.None = true }, "",
			func(v peephole.View) bool { return v.Whole && !v.Marked && v.Reflected }},
		{"a plug as dark as its hole", func(s *indoors.Scene) { s.Light.Plug = 0.02 }, "",
			func(v peephole.View) bool { return v.Whole && v.Marked && !v.Reflected }},
		{"no paper behind the secondary", func(s *indoors.Scene) { s.Light.Paper = 0 }, "",
			func(v peephole.View) bool { return v.Whole && v.Marked && v.Reflected }},
		{"a focuser that hides the secondary's edge", func(s *indoors.Scene) { s.Draw = 0.85 * s.DrawDepth * s.Secondary / 2 / s.Height },
			peephole.NoSecondary, nil},
		{"no vanes, no clips", func(s *indoors.Scene) { s.Vanes, s.Clips = 0, 0 }, "",
			func(v peephole.View) bool { return v.Whole && v.Marked && v.Reflected }},
		{"a dark mark", func(s *indoors.Scene) { s.Light.Mark, s.Spot, s.Tilt = 0.03, 3, r2.Vec{X: 0.006} }, "",
			func(v peephole.View) bool { return v.Whole && v.Marked }},
		{"the peephole 2 mm off", func(s *indoors.Scene) { s.Peephole = r2.Vec{X: 2} }, "",
			func(v peephole.View) bool { return v.Whole && v.Marked && v.Reflected }},
	} {
		s := indoors.Demo(3)
		s.Turned, s.Twisted, s.Spot = r2.Scale(0.15, s.Turned), 0, 9
		c.make(&s)
		v, _ := see(s)
		if v.Why != c.why || v.Found != (c.why == "") || c.is != nil && !c.is(v) {
			t.Errorf("%s: found %v, %q, whole %v, marked %v, reflected %v", c.what, v.Found, v.Why, v.Whole, v.Marked, v.Reflected)
		}
	}
}

// Frames that show no telescope at all are no mirror.
func TestNothing(t *testing.T) {
	m := peephole.NewMeter(peephole.Config{})
	f := frame.New(320, 240)
	f.White = 255
	for i := range f.Pix {
		f.Pix[i] = float32(i % 320 * 200 / 320) // a slope
	}
	if v := m.Measure(f); v.Found || v.Why != peephole.NoMirror {
		t.Errorf("a slope: found %v, %q", v.Found, v.Why)
	}
	if v := m.Measure(frame.New(3, 3)); v.Found {
		t.Error("nine pixels are a telescope")
	}
	if v := m.Measure(frame.New(320, 240)); v.Found || v.Why != peephole.Dark {
		t.Errorf("black: found %v, %q", v.Found, v.Why)
	}
}
