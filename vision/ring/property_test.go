package ring

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/frame"
)

// change is what is done to a good frame: cut, turned, mirrored, and brighter or
// fainter. All of it keeps the truth, or takes the ring away.
type change struct {
	x0, y0, w, h int  // part of the frame that is kept
	flip         bool // x mirrored, before
	turns        int  // quarter turns, clockwise
	gain         float32
}

func (c change) String() string {
	return fmt.Sprintf("crop %dx%d+%d+%d, flip %v, turns %d, gain %.2f", c.w, c.h, c.x0, c.y0, c.flip, c.turns, c.gain)
}

// anyChange cuts, on each axis, nothing or anything.
func anyChange(r *rand.Rand, f *frame.Frame) change {
	part := func(n int) (from, size int) {
		if r.IntN(3) == 0 {
			return 0, n
		}
		size = n/4 + r.IntN(3*n/4)
		return r.IntN(n - size + 1), size
	}
	var c change
	c.x0, c.w = part(f.Width)
	c.y0, c.h = part(f.Height)
	c.flip, c.turns = r.IntN(2) == 0, r.IntN(4)
	c.gain = float32(math.Exp(r.Float64()*5 - 4)) // 1/55 to e
	return c
}

// of returns the changed frame, in whole grey steps up to White.
func (c change) of(f *frame.Frame) *frame.Frame {
	w, h := c.w, c.h
	if c.turns%2 == 1 {
		w, h = h, w
	}
	g := frame.New(w, h)
	g.White = f.White
	for y := range c.h {
		for x := range c.w {
			v := f.Pix[(c.y0+y)*f.Width+c.x0+x] * c.gain
			u, v2 := x, y
			if c.flip {
				u = c.w - 1 - u
			}
			n, m := c.w, c.h
			for range c.turns {
				u, v2, n, m = m-1-v2, u, m, n
			}
			g.Pix[v2*w+u] = float32(math.Round(float64(min(v, f.White))))
		}
	}
	return g
}

// vector returns what becomes of a vector.
func (c change) vector(v r2.Vec) r2.Vec {
	if c.flip {
		v.X = -v.X
	}
	for range c.turns {
		v = r2.Vec{X: -v.Y, Y: v.X}
	}
	return v
}

// A changed frame gives the changed answer, or none: never another one with
// confidence. Faint, burnt out and cut rings are among them.
func TestChangedFramesNeverMislead(t *testing.T)      { changedFramesNeverMislead(t, 100) }
func TestProveChangedFramesNeverMislead(t *testing.T) { changedFramesNeverMislead(t, 1000) }

func changedFramesNeverMislead(t *testing.T, trials int) {
	var good []star
	for _, kind := range []string{"clean", "faint", "bright", "edge", "clutter"} {
		good = append(good, stars(t, kind)...)
	}
	frames := make([]*frame.Frame, len(good))
	meters := make([]*Meter, len(good))
	for i, s := range good {
		frames[i], meters[i] = load(t, s.Files[0]), s.meter()
	}
	const seed, careful = 1, 40 // every 40th is measured too
	r := rand.New(rand.NewPCG(seed, 0))
	said := map[string]int{}
	for trial := range trials {
		i := trial % len(good)
		c := anyChange(r, frames[i])
		f, truth := c.of(frames[i]), c.vector(good[i].offset())
		judge := func(name string, m Measurement) {
			said[name+" "+string(m.Why)]++
			if !m.Found {
				return
			}
			e := r2.Sub(m.Offset, truth)
			k := math.Hypot(e.X/m.Sigma.X, e.Y/m.Sigma.Y)
			if !(k <= mostSigmas) {
				t.Errorf("seed %d, trial %d, %s of %s, %v: error %.3f px, %.1f sigma, %.2f of the tolerance; clipped %.3f, level %.3f, R %.0f e/R %.4f sd/R %.4f",
					seed, trial, name, good[i].Files[0], c, r2.Norm(e), k, r2.Norm(e)/good[i].tolerance(), m.Clipped, m.Level, m.Ring.Radius, r2.Norm(e)/m.Ring.Radius, m.Sigma.X/m.Ring.Radius)
			}
		}
		meters[i].track.on = false
		judge("track", meters[i].Track(f))
		if trial%careful == 0 {
			judge("measure", meters[i].Measure(f))
		}
	}
	t.Log(said)
	if said["track "] < trials/5 || said["measure "] < trials/careful/5 {
		t.Errorf("too few found to prove anything")
	}
}

// mostSigmas is how many claimed sigma an error may reach.
const mostSigmas = 4
