package ring

import (
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

// The circle fits race on the same edge points of the same frames, each with the
// rendered correction that Track takes off. docs/measurement.md has the table.
func TestCircleFitsRace(t *testing.T) {
	fits := []struct {
		name string
		fit  func(f *circleFitter) Circle
	}{
		{"Taubin", func(f *circleFitter) Circle {
			c, _ := taubin(f.x, f.y, f.w)
			return c
		}},
		{"geometric", func(f *circleFitter) Circle {
			c, _ := taubin(f.x, f.y, f.w)
			return geometric(c, f.x, f.y, f.w, 20)
		}},
		{"geometric, Tukey", func(f *circleFitter) Circle {
			c, _ := f.robust()
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
				if !found.Found || !m.trace.outer(f, &m.track.sky, &ring, clipLevel(f), &o) {
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
func evenly(f *circleFitter) *circleFitter {
	c := &circleFitter{x: slices.Clone(f.x), y: slices.Clone(f.y), w: make([]float64, len(f.x))}
	for i := range c.w {
		c.w[i] = 1
	}
	return c
}
