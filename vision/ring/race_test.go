package ring

import (
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/robust"
)

// The circle fits race on the same edge points of the same frames, each with the
// rendered correction that Track takes off. docs/measurement.md has the table.
func TestCircleFitsRace(t *testing.T) {
	fits := []struct {
		name string
		fit  func(f *robust.Fitter) Circle
	}{
		{"Taubin", func(f *robust.Fitter) Circle {
			c, _ := robust.Taubin(f.X, f.Y, f.W)
			return c
		}},
		{"geometric", func(f *robust.Fitter) Circle {
			c, _ := robust.Taubin(f.X, f.Y, f.W)
			return robust.Geometric(robust.Oval{Circle: c}, f.X, f.Y, f.W, 20, 3).Circle
		}},
		{"geometric, Tukey", func(f *robust.Fitter) Circle {
			c, _ := f.Fit(rays)
			return c
		}},
	}
	rms := map[string]map[string]float64{}
	for _, l := range limits {
		rms[l.kind] = map[string]float64{}
		for _, c := range fits {
			var a tally
			for _, s := range stars(t, l.kind) {
				f := load(t, s.Files[0])
				m := s.meter()
				found := m.Track(f)
				var o outline
				ring, hole := m.track.ring, m.track.hole
				if !found.Found || !m.trace.outer(f, &m.track.sky, &ring, found.Shadow, clipLevel(f.Pix, f.White), &o) {
					t.Fatalf("%s: no outline", s.Files[0])
				}
				outer := c.fit(evenly(&m.trace.fit))
				m.trace.inner(f, &m.track.sky, ring, &hole, &o)
				inner := c.fit(evenly(&m.trace.fit))
				leans := r2.Scale(1/(1+m.bias.add.of), r2.Vec{X: inner.X - outer.X, Y: inner.Y - outer.Y})
				a.add(r2.Sub(leans, s.offset()), found.Sigma, s.unit(s.offset()))
			}
			rms[l.kind][c.name] = a.rms()
			t.Logf("%-8s %-16s rms %.4f of the tolerance", l.kind, c.name, a.rms())
		}
	}
	if r := rms["clutter"]; !(r["geometric, Tukey"] < 0.5*min(r["Taubin"], r["geometric"])) {
		t.Errorf("clutter: the weights do not help: %v", r)
	}
}

// evenly returns a copy of the points, each counting alike.
func evenly(f *robust.Fitter) *robust.Fitter {
	c := &robust.Fitter{X: slices.Clone(f.X), Y: slices.Clone(f.Y), W: make([]float64, len(f.X))}
	for i := range c.W {
		c.W[i] = 1
	}
	return c
}
