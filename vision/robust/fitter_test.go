package robust

import (
	"math"
	"math/rand/v2"
	"testing"
)

// edge adds n points of a circle of radius 60 px about (100, 80) with radial noise,
// and with whatever deform does to the radius in a direction.
func edge(f *Fitter, r *rand.Rand, n int, noise float64, deform func(phi float64) float64) {
	f.Reset()
	for i := range n {
		phi := 2 * math.Pi * float64(i) / float64(n)
		at := 60 + noise*r.NormFloat64()
		if deform != nil {
			at += deform(phi)
		}
		f.Add(100+at*math.Cos(phi), 80+at*math.Sin(phi))
	}
}

// The centre scatters as Light says where only the noise of independent points moves
// it: s sqrt(2/n), n of the points counting as independent (Chan, 1965, from memory).
func TestFitterKnowsItsNoise(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	var f Fitter
	const n, noise, fits = 90, 0.3, 400
	var x2, light, deformed float64
	for range fits {
		edge(&f, r, n, noise, nil)
		c, ok := f.Fit(n)
		if !ok || math.Abs(c.Radius-60) > 5*noise/math.Sqrt(n) {
			t.Fatalf("%+v %v", c, ok)
		}
		x2 += (sq(c.X-100) + sq(c.Y-80)) / 2 / fits
		light += f.Light / fits
		deformed += f.Noise * f.Noise / fits
	}
	scatter := math.Sqrt(x2)
	// The points are taken in pairs: Light is sqrt 2 of what independent ones have.
	if want := scatter * math.Sqrt2; light < 0.85*want || light > 1.2*want {
		t.Errorf("the centre scatters by %.4f px, half the points' light says %.4f", scatter, light)
	}
	if got := math.Sqrt(deformed); got < 0.75*scatter || got > 1.2*scatter {
		t.Errorf("the centre scatters by %.4f px, the orders beside it say %.4f", scatter, got)
	}
}

// A smooth deformation is in Noise and not in Light; an oval is in neither, for it is
// fitted.
func TestFitterTellsDeformationFromNoise(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	var f Fitter
	const n = 180
	edge(&f, r, n, 0.1, nil)
	f.Fit(n)
	light := f.Light
	edge(&f, r, n, 0.1, func(phi float64) float64 { return 0.5 * math.Cos(3*phi) })
	c, ok := f.Fit(n)
	// The power of one of the four orders: 0.5 px squared, halved, over four.
	if want := 0.5 / math.Sqrt(8); !ok || math.Abs(f.Noise-want) > 0.2*want || math.Hypot(c.X-100, c.Y-80) > 0.2 {
		t.Errorf("%+v: noise %.3f, want %.3f", c, f.Noise, want)
	}
	if f.Light > 2.5*light {
		t.Errorf("light %.3f, without the deformation %.3f", f.Light, light)
	}
	edge(&f, r, n, 0.1, func(phi float64) float64 { return 5 * math.Cos(2*(phi-0.4)) })
	if _, ok := f.Fit(n); !ok || f.Noise > 0.15 {
		t.Errorf("an oval: noise %.3f", f.Noise)
	}
}

// A sixth of the points, far off, is left out, whichever way they lie.
func TestFitterLeavesOutWhatIsFarOff(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	var f Fitter
	for _, off := range []float64{-25, 25} {
		edge(&f, r, 90, 0.2, func(phi float64) float64 {
			if phi > 5.2 {
				return off
			}
			return 0
		})
		c, ok := f.Fit(90)
		if !ok || math.Hypot(c.X-100, c.Y-80) > 0.3 || math.Abs(c.Radius-60) > 0.3 || f.Used < 0.65 || f.Used > 0.84 {
			t.Errorf("%g px: %+v %v, %.2f used", off, c, ok, f.Used)
		}
	}
	// Of an arc the centre is less sure, more across it than noise alone says.
	f.Reset()
	for i := range 30 {
		phi := 2 * math.Pi * float64(i) / 90
		f.Add(100+60*math.Cos(phi)+0.1*r.NormFloat64(), 80+60*math.Sin(phi)+0.1*r.NormFloat64())
	}
	if c, ok := f.Fit(90); !ok || f.ArcDilution < 3 {
		t.Errorf("a third of a circle: %+v %v, dilution %.1f", c, ok, f.ArcDilution)
	}
}

// Points closer than 3 px share their noise, as the edges of a frame do: so many as stand
// 3 px apart count, whatever was sampled.
func TestLightOfPointsThatStandClose(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	var f Fitter
	edge(&f, r, 720, 0.3, nil)
	f.Fit(720)
	want := 0.3 * math.Sqrt(2/(2*math.Pi*60/3*f.Used))
	if math.Abs(f.Light-want) > 0.1*want {
		t.Errorf("light %.4f, want %.4f", f.Light, want)
	}
}

// An oval is fitted where it is more than a twentieth of the radius RMS, three times what
// deforms the other orders, and seen from more than 0.7 of the way round.
func TestWhenAnOvalIsFitted(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 10))
	for _, c := range []struct {
		oval, three, part float64
		fitted            bool
	}{
		{4.7, 0, 1, true}, {3.8, 0, 1, false},
		{4.7, 2.5, 1, true}, {4.7, 3.6, 1, false},
		{4.7, 0, 0.75, true}, {4.7, 0, 0.65, false},
	} {
		var f Fitter
		f.Limit = func(float64, float64, int) float64 { return 30 }
		const n = 360
		edge(&f, r, n, 0.1, func(phi float64) float64 { return c.oval*math.Cos(2*phi) + c.three*math.Cos(3*phi) })
		keep := int(c.part * n)
		f.X, f.Y = f.X[:keep], f.Y[:keep]
		if _, ok := f.Fit(n); !ok || (f.Shape.A != 0) != c.fitted {
			t.Errorf("%+v: %v, %+v", c, ok, f.Shape)
		}
	}
}

// The middle of a curve lies a whole radius inside of it.
func TestMiddleIsARadiusInside(t *testing.T) {
	o := Oval{Circle: Circle{X: 3, Y: 4, Radius: 5}, A: 0.5}
	if d, _, _ := o.Off(3, 4); d != -5 {
		t.Errorf("%g", d)
	}
}
