package optics

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"
)

// An exact ray trace of a paraboloid, against which the formulas stand. It knows
// no aberration theory: a ray, a surface, the law of reflection.

// trace sends a ray through the pupil point (px, py), mm in the plane of the
// vertex, from a star that is imaged h mm off the axis along x, and returns where
// it meets the plane z mm outside focus.
func trace(f, px, py, h, z float64) r2.Vec {
	// The direction of the light: downwards, leaning so that the chief ray
	// lands at x = h in the focal plane.
	dir := r3.Unit(r3.Vec{X: h, Z: -f})
	// The ray passes through (px, py, 0) of the vertex plane (the stop): find
	// where it meets z = r^2 / 4f, by Newton's method along the ray.
	at := func(s float64) r3.Vec { return r3.Add(r3.Vec{X: px, Y: py}, r3.Scale(s, dir)) }
	s := 0.0
	for range 50 {
		p := at(s)
		g := p.Z - (p.X*p.X+p.Y*p.Y)/(4*f)
		d := dir.Z - (p.X*dir.X+p.Y*dir.Y)/(2*f)
		s -= g / d
	}
	p := at(s)
	n := r3.Unit(r3.Vec{X: -p.X / (2 * f), Y: -p.Y / (2 * f), Z: 1})
	out := r3.Sub(dir, r3.Scale(2*r3.Dot(dir, n), n))
	k := (f + z - p.Z) / out.Z
	return r2.Vec{X: p.X + k*out.X, Y: p.Y + k*out.Y}
}

// outline traces the rim of a pupil circle of radius a about c, and returns the
// least-squares circle through it.
func outline(f, a float64, c r2.Vec, h, z float64) (centre r2.Vec, radius float64) {
	const n = 720
	A := mat.NewDense(n, 3, nil)
	b := mat.NewVecDense(n, nil)
	for i := range n {
		t := 2 * math.Pi * float64(i) / n
		p := trace(f, c.X+a*math.Cos(t), c.Y+a*math.Sin(t), h, z)
		A.SetRow(i, []float64{2 * p.X, 2 * p.Y, 1})
		b.SetVec(i, r2.Norm2(p))
	}
	var x mat.VecDense
	if err := x.SolveVec(A, b); err != nil {
		panic(err)
	}
	centre = r2.Vec{X: x.AtVec(0), Y: x.AtVec(1)}
	return centre, math.Sqrt(x.AtVec(2) + r2.Norm2(centre))
}

func newtonian(f, ratio float64) Telescope {
	return Telescope{Aperture: f / ratio, FocalLength: f, Secondary: f / ratio / 4}
}

// The shadow is displaced toward the axis point by K h, the same on both sides of focus:
// the coma formula, compared with the exact trace. 2 % is the bound that Offset states;
// the small slope with z is the sensor's tilt to the chief ray.
func TestOffsetAgainstTrace(t *testing.T) {
	for _, ratio := range []float64{4, 5, 6, 8} {
		for _, f := range []float64{500, 1000, 2000} {
			s := newtonian(f, ratio)
			for _, h := range []float64{1, 3} {
				for _, z := range []float64{-5, -2.9, 2.9, 5} {
					if math.Abs(z) < 3*h/(4*ratio)*1.5 || math.Abs(z)/f > 0.006 {
						continue
					}
					ring, radius := outline(f, s.Aperture/2, r2.Vec{}, h, z)
					shadow, _ := outline(f, s.Secondary/2, r2.Vec{}, h, z)
					got := shadow.X - ring.X
					want := s.Offset(r2.Vec{X: h}, r2.Vec{}, r2.Vec{}, z).X
					if math.Abs(got-want) > 0.02*math.Abs(want) {
						t.Errorf("F/%g f %g h %g z %g: traced %.5f mm, formula %.5f", ratio, f, h, z, got, want)
					}
					if d := math.Abs(radius/s.RingRadius(z) - 1); d > 0.015 {
						t.Errorf("F/%g f %g z %g: ring radius is off by %.3f", ratio, f, z, d)
					}
				}
			}
		}
	}
}

// A silhouette displaced in the pupil moves the shadow by -(z/f) c, and that
// reverses through focus; the pair of both sides gives the coma alone.
func TestSilhouetteAndPairAgainstTrace(t *testing.T) {
	s := newtonian(1000, 5)
	c := r2.Vec{X: 2}
	look := func(z float64) (r2.Vec, float64) {
		ring, radius := outline(1000, s.Aperture/2, r2.Vec{}, 1, z)
		shadow, _ := outline(1000, s.Secondary/2, c, 1, z)
		return r2.Sub(shadow, ring), radius
	}
	in, rIn := look(-3)
	out, rOut := look(5)
	for _, e := range []struct {
		name      string
		got, want float64
	}{
		{"inside", in.X, s.Offset(r2.Vec{X: 1}, r2.Vec{}, c, -3).X},
		{"outside", out.X, s.Offset(r2.Vec{X: 1}, r2.Vec{}, c, 5).X},
	} {
		if math.Abs(e.got-e.want) > 2e-4 {
			t.Errorf("%s: traced %.5f mm, formula %.5f", e.name, e.got, e.want)
		}
	}
	coma, delta := Pair(in, out, rIn, rOut)
	if want := -s.OffsetPerField(); math.Abs(coma.X-want) > 0.01*math.Abs(want) {
		t.Errorf("coma part %.5f mm, want %.5f", coma.X, want)
	}
	if math.Abs(delta.X-0.02) > 2e-4 {
		t.Errorf("silhouette %.5f radii, want 0.0200", delta.X)
	}
}

// One screw forward by d on a circle of radius b tilts a plane through three
// screws by d / 1.5 b: the exact plane, by its normal.
func TestKnobTiltAgainstGeometry(t *testing.T) {
	const b, d = 80.0, 0.25
	p := make([]r3.Vec, 3)
	for i := range p {
		a := 2 * math.Pi * float64(i) / 3
		p[i] = r3.Vec{X: b * math.Cos(a), Y: b * math.Sin(a)}
	}
	p[0].Z = d
	n := r3.Unit(r3.Cross(r3.Sub(p[1], p[0]), r3.Sub(p[2], p[0])))
	got := math.Acos(n.Z)
	if want := KnobTilt(1, d, b); math.Abs(got-want) > 1e-7 {
		t.Errorf("tilt %.7f rad, formula %.7f", got, want)
	}
	if n.X >= 0 {
		t.Errorf("the normal leans %v: want away from the screw moved forward", n)
	}
}
