package ring

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/frame"
)

var looks = map[string]func(*Meter, *frame.Frame) Measurement{"track": (*Meter).Track, "measure": (*Meter).Measure}

// With the focal ratio and the pixel alone, both ways of measuring find in each photograph
// what a person sees (testdata/photographs).
func TestPhotographs(t *testing.T)      { ofPhotographs(t, 1) }
func TestProvePhotographs(t *testing.T) { ofPhotographs(t, every) }

func ofPhotographs(t *testing.T, most int) {
	const (
		mostRadii = 0.025 // of error
		mostClaim = 0.05  // radii: more says nothing
	)
	for name, look := range looks {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			var sigmas tally
			for _, p := range first(photographs(t), most) {
				m := look(p.meter(), p.load(t))
				if !m.Found {
					t.Errorf("%s: %q", p.File, m.Why)
					continue
				}
				e := r2.Sub(m.Offset, p.offset())
				both := r2.Vec{X: math.Hypot(m.Sigma.X, p.Spread[0]), Y: math.Hypot(m.Sigma.Y, p.Spread[1])}
				sigmas.add(e, both, p.Ring[2])
				size := m.Shadow.Radius/p.Shadow[2] - 1
				if !(r2.Norm(e) < mostRadii*p.Ring[2]) || !(math.Abs(size) < 0.1) || !(max(m.Sigma.X, m.Sigma.Y) < mostClaim*p.Ring[2]) {
					t.Errorf("%s: off by %.3f radii, shadow %+.0f %%, sigma %.3f radii", p.File, r2.Norm(e)/p.Ring[2], 100*size, m.Sigma.X/p.Ring[2])
				}
			}
			t.Logf("rms %.4f radii, worst %.4f, error over sigma %.2f", sigmas.rms(), sigmas.worst, sigmas.sigmas())
			if s := sigmas.sigmas(); most == every && !(s < 1.5) {
				t.Errorf("error over claimed sigma %.2f rms", s)
			}
		})
	}
}

// Stars by a general-purpose optics library (testdata/poppy), told no secondary, from
// 0.12 to 0.5 of the aperture.
func TestStarsByAnOpticsLibrary(t *testing.T)      { starsByAnOpticsLibrary(t, 1) }
func TestProveStarsByAnOpticsLibrary(t *testing.T) { starsByAnOpticsLibrary(t, every) }

func starsByAnOpticsLibrary(t *testing.T, most int) {
	for _, d := range first(drawnFrames(t, poppyDir), most) {
		t.Run(d.File, func(t *testing.T) {
			t.Parallel()
			m := d.meter().Measure(d.load(t))
			e := r2.Sub(m.Offset, d.offset())
			k := math.Hypot(e.X/m.Sigma.X, e.Y/m.Sigma.Y) / math.Sqrt2
			if !m.Found || !(r2.Norm(e) < 0.05*d.unit(0.4)) || !(k < 4) {
				t.Errorf("secondary %.2f: found %v (%q), off by %.3f, %.1f sigma", d.eps(), m.Found, m.Why, r2.Norm(e)/d.unit(0.4), k)
			}
			if off := math.Abs(m.Obstruction - d.eps()); !(off < 0.002) || !(off < 5*m.ObstructionSigma) {
				t.Errorf("secondary %.4f for %.4f, sigma %.4f", m.Obstruction, d.eps(), m.ObstructionSigma)
			}
		})
	}
}

// Mirrors and cameras with faults that the model does not know, one frame of each
// (testdata/faults; no constant was set on these, `make faults` draws more). The
// limits are those of single frames: twice the rms that `make faults` allows.
func TestFaults(t *testing.T)      { withFaults(t, 2) }
func TestProveFaults(t *testing.T) { withFaults(t, every) }

func withFaults(t *testing.T, most int) {
	for _, d := range first(drawnFrames(t, faultsDir), most) {
		t.Run(d.Kind, func(t *testing.T) {
			t.Parallel()
			f := d.load(t)
			for name, look := range looks {
				m := look(d.meter(), f)
				e := r2.Sub(m.Offset, d.offset())
				k := math.Hypot(e.X/m.Sigma.X, e.Y/m.Sigma.Y) / math.Sqrt2
				t.Logf("%s: off by %.3f, %.1f sigma", name, r2.Norm(e)/d.unit(0.25), k)
				if !m.Found || !(k < 5) || !(r2.Norm(e) < 0.3*d.unit(0.25)) {
					t.Errorf("%s: found %v (%q), off by %.3f, %.1f sigma", name, m.Found, m.Why, r2.Norm(e)/d.unit(0.25), k)
				}
			}
		})
	}
}

// The offset in pixels is the same within its sigma whether the pixel is told, told four
// times too large or too small, or not told; and the fringes give its right size.
func TestPixelToldWrong(t *testing.T)      { pixelToldWrong(t, 1) }
func TestProvePixelToldWrong(t *testing.T) { pixelToldWrong(t, every) }

func pixelToldWrong(t *testing.T, most int) {
	s := stars(t, "clean")[0]
	for _, c := range first([]struct {
		name   string
		factor float64
		flag   Flag // that is raised, "" for none about the pixel
	}{{"four times", 4, PixelWrong}, {"true", 1, ""}, {"a quarter", 0.25, PixelWrong}, {"not told", 0, ""}}, most) {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			f := load(t, s.Files[0])
			told := c.factor * s.PixelUM / 1000
			for name, look := range looks {
				m := look(NewMeter(Config{Telescope: s.telescope(), PixelMM: told}), f)
				e := r2.Sub(m.Offset, s.offset())
				if k := math.Hypot(e.X/m.Sigma.X, e.Y/m.Sigma.Y); !m.Found || !(k < mostSigmas) {
					t.Errorf("%s: found %v (%q), off by %.1f sigma", name, m.Found, m.Why, k)
				}
				if name != "measure" {
					continue
				}
				// The colour of star and camera is not known: 3 % by the model's own band.
				if off := m.PixelMM*1000/s.PixelUM - 1; !(math.Abs(off) < 0.04) || !(m.PixelSigma > 0 && m.PixelSigma < 0.1) {
					t.Errorf("pixel %+.1f %% off, sigma %.3f", 100*off, m.PixelSigma)
				}
				var raised Flag
				for _, fl := range m.Flags {
					if fl == PixelWrong || fl == PixelGuessed {
						raised = fl
					}
				}
				if raised != c.flag {
					t.Errorf("flags %q", m.Flags)
				}
			}
		})
	}
}

// magnify returns f with each pixel k x k times.
func magnify(f *frame.Frame, k int) *frame.Frame {
	g := frame.New(f.Width*k, f.Height*k)
	g.White = f.White
	for i := range g.Pix {
		g.Pix[i] = f.Pix[i/g.Width/k*f.Width+i%g.Width/k]
	}
	return g
}

// Pictures as large as a still camera's, with pixels finer than anything in them, give the
// same offset in ring radii as the small one, told the pixel or not.
func TestProveLargePictures(t *testing.T) {
	s := stars(t, "clean")[0]
	for _, k := range []int{4, 8} {
		for _, told := range []float64{0, s.PixelUM / 1000 / float64(k)} {
			f := magnify(load(t, s.Files[0]), k)
			for name, look := range looks {
				m := look(NewMeter(Config{Telescope: s.telescope(), PixelMM: told}), f)
				e := r2.Sub(m.Offset, r2.Scale(float64(k), s.offset()))
				sigma := math.Hypot(e.X/m.Sigma.X, e.Y/m.Sigma.Y) / math.Sqrt2
				if !m.Found || !(sigma < mostSigmas) || !(r2.Norm(e) < 0.1*s.tolerance()*float64(k)) {
					t.Errorf("%d times, pixel %g, %s: found %v (%q), off by %.2f tolerances, %.1f sigma", k, told, name, m.Found, m.Why, r2.Norm(e)/s.tolerance()/float64(k), sigma)
				}
			}
		}
	}
}

// A shadow outside its ring is impossible, whatever secondary was told.
func TestProveShadowStaysInItsRing(t *testing.T) {
	p := photographs(t)[1]
	for _, eps := range []float64{0.1, 0.25, 0.42, 0.6} {
		c := p.meter().cfg
		c.Telescope.Secondary = eps * c.Telescope.Aperture
		for name, look := range looks {
			m := look(NewMeter(c), p.load(t))
			if e := r2.Norm(r2.Sub(m.Offset, p.offset())); !m.Found || !(e < 0.025*p.Ring[2]) {
				t.Errorf("%s, told %.2f: found %v (%q), off by %.2f px", name, eps, m.Found, m.Why, e)
			}
		}
	}
}
