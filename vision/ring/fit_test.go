package ring

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"halocue/internal/optics"
	"halocue/vision/frame"
)

// drawnStar is a star of Fresnel number n and 80 px radius, drawn on a grid four times as
// fine and in twice as many colours as those of a fit, with four vanes.
func drawnStar(n, turn float64) (params, *frame.Frame) {
	c := newCanvas(grid{512, 11, true})
	c.step = 3.4 / 512
	var q params
	q[pR], q[pEps], q[pBlur] = 80+turn/4, 0.25, 0.7
	q[pOX], q[pOY] = 0.05*math.Cos(turn)+0.02, 0.05*math.Sin(turn)
	q[pKX], q[pKY] = -0.04*math.Cos(turn), -0.05*math.Sin(turn)
	for k := range 4 {
		q[pVane+2*k], q[pVane+2*k+1] = 0.4+turn+float64(k)*math.Pi/2, 0.008
	}
	c.draw(&q, n/80, 4, 1)
	f := frame.New(320, 320)
	f.White = 65535
	var at tap
	for i := range f.Pix {
		f.Pix[i] = 500 + 5*float32(i%7)
		if x, y := (float64(i%320)-160.2)/q[pR], (float64(i/320)-160.4)/q[pR]; c.tapAt(x, y, &at) {
			f.Pix[i] += 20000 * float32(c.value(c.blurred, &at))
		}
	}
	return q, f
}

func TestCoarseGrid(t *testing.T)      { coarseGrid(t, 30) }
func TestProveCoarseGrid(t *testing.T) { coarseGrid(t, 15, 30, 60, 100, 150) }

// The grid of a fit does not move its answer.
func coarseGrid(t *testing.T, fresnel ...float64) {
	tel := optics.Telescope{Aperture: 200, FocalLength: 1000, Secondary: 50}
	for _, n := range fresnel {
		for _, turn := range []float64{0.3, 2.9} {
			q, f := drawnStar(n, turn)
			m := NewMeter(Config{Telescope: tel, PixelMM: n / 80 * 2 * tel.FocalRatio() * optics.Wavelength}).Measure(f)
			e := math.Hypot(m.Offset.X-q[pOX]*q[pR], m.Offset.Y-q[pOY]*q[pR]) / q[pR]
			t.Logf("N %g: off by %.5f radii", n, e)
			if !m.Found || !(e < 6e-4) {
				t.Errorf("N %g: found %v (%q), off by %.5f radii", n, m.Found, m.Why, e)
			}
		}
	}
}

// The points of a coarse grid do not show in the picture of a round star.
func TestSmoothEdges(t *testing.T) {
	const n, r = 60, 60.0
	var q params
	q[pR], q[pEps], q[pBlur] = r, 0.26, 1
	uneven := func(g grid) float64 {
		c := newCanvas(g)
		c.draw(&q, n/r, 0, 2)
		const around = 90
		var at tap
		var sum float64
		for i := range 20 {
			var list [around]float64
			for k := range list {
				sin, cos := math.Sincos(2 * math.Pi * float64(k) / around)
				c.tapAt(float64(i+1)/20*cos, float64(i+1)/20*sin, &at)
				list[k] = c.value(c.blurred, &at)
			}
			sum += stat.PopVariance(list[:], nil) / 20
		}
		return math.Sqrt(sum)
	}
	smooth, cells := uneven(grid{128, 5, true}), uneven(grid{128, 5, false})
	t.Logf("around the ring the light varies by %.5f, by %.5f with the covered part of each cell", smooth, cells)
	if !(smooth < cells/4) {
		t.Error("the grid shows")
	}
}

// After a correction the derivatives explain the step that was made, and no step across it changes.
func TestSecantExplainsTheStep(t *testing.T) {
	f := &fitter{free: []int{pX, pY}, model: []float64{3, 5, 8}, before: []float64{1, 1, 1}, part: make([]float64, 3),
		by: [][]float64{{1, 2, 3}, {0, 1, 0}}, normal: mat.NewSymDense(2, []float64{4, 0, 0, 1})}
	var q, to params
	to[pX], to[pY] = 0.5, 2
	along := []float64{-1, 1} // across the step, in one-sigmas: 4 * 0.5 * -1 + 1 * 2 * 1 = 0
	var old [3]float64
	for i := range old {
		old[i] = along[0]*f.by[0][i] + along[1]*f.by[1][i]
	}
	f.secant(&q, &to)
	for i := range old {
		if got, want := 0.5*f.by[0][i]+2*f.by[1][i], f.model[i]-f.before[i]; math.Abs(got-want) > 1e-12 {
			t.Errorf("sample %d: the step explains %g of %g", i, got, want)
		}
		if got := along[0]*f.by[0][i] + along[1]*f.by[1][i]; math.Abs(got-old[i]) > 1e-12 {
			t.Errorf("sample %d: a step across changed from %g to %g", i, old[i], got)
		}
	}
}
