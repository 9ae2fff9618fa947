package estimate

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
)

var f5 = optics.Telescope{Aperture: 200, FocalLength: 1000, Secondary: 50, SecondaryDistance: 800}

func optic5(t testing.TB) Instrument {
	t.Helper()
	return Instrument{f5, 0.005, f5.Tolerance(), 2 * f5.FocalLength * optics.KnobTilt(1, 0.8, 0.42*f5.Aperture)}
}

// certain makes a filter that is certain of an axis point and a silhouette.
func certain(side float64, a, q r2.Vec) filter {
	return filter{side, coordinate{axis: a.X, silhouette: q.X}, coordinate{axis: a.Y, silhouette: q.Y}}
}

// predicted is the offset that a filter of b expects.
func predicted(b *Bank, f filter, star r2.Vec, radius float64) r2.Vec {
	nu, _ := b.innovation(f, Reading{Star: star, Radius: radius})
	return r2.Scale(-1, nu)
}

// The filter's linear model is the offset of the optics package, which is held
// against an exact ray trace; and the traced numbers themselves: offset +3.00 and
// -17.11 um along h for h = 1, c = 2 mm, z = -5, +5 (exact trace, F/5, f = 1000,
// eps = 0.25).
func TestModelIsTheOptics(t *testing.T) {
	b := NewBank(optic5(t))
	r := rand.New(rand.NewPCG(1, 2))
	vec := func(sd float64) r2.Vec { return r2.Vec{X: sd * r.NormFloat64(), Y: sd * r.NormFloat64()} }
	for range 100 {
		star, axis, q, z := vec(1), vec(2), vec(3), 5*r.NormFloat64()
		want := f5.Offset(star, axis, f5.Silhouette(q, axis, star), z)
		got := predicted(b, certain(math.Copysign(1, z), axis, q), star, f5.RingRadius(z))
		if r2.Norm(r2.Sub(got, want)) > 1e-12 {
			t.Fatalf("z = %g: offset %v, optics say %v", z, got, want)
		}
	}
	for _, c := range []struct{ z, want float64 }{{-5, 3.00e-3}, {5, -17.11e-3}} {
		axis := r2.Vec{X: -1} // star at 0: h = +1
		q := r2.Vec{X: 2 + 0.8*2*axis.X}
		got := predicted(b, certain(math.Copysign(1, c.z), axis, q), r2.Vec{}, f5.RingRadius(c.z))
		if math.Abs(got.X-c.want) > 0.15e-3 {
			t.Errorf("z = %g: offset %.5f mm, traced %.5f", c.z, got.X, c.want)
		}
	}
}

// look feeds n measurements of a true state with noise of one-sigma sd, mm.
func look(b *Bank, r *rand.Rand, n int, star, axis, q r2.Vec, z, sd float64) {
	for range n {
		d := f5.Offset(star, axis, f5.Silhouette(q, axis, star), z)
		d = r2.Add(d, r2.Vec{X: sd * r.NormFloat64(), Y: sd * r.NormFloat64()})
		b.Measure(Reading{star, f5.RingRadius(z), d, r2.Vec{X: sd / 5, Y: sd / 5}})
	}
}

// One side cannot tell coma from the silhouette; both sides can, whichever was
// first, and the answer is within what the filter claims.
func TestBothSidesTellTheAxis(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	const nights, sd = 200, 0.004
	sum, unsure := 0.0, 0
	for range nights {
		b := NewBank(optic5(t))
		axis := r2.Vec{X: 2 * r.NormFloat64(), Y: 2 * r.NormFloat64()}
		q := r2.Vec{X: 2 * r.NormFloat64(), Y: 2 * r.NormFloat64()}
		star := r2.Vec{X: 0.5 * r.NormFloat64(), Y: 0.5 * r.NormFloat64()}
		z := math.Copysign(4+r.Float64(), r.NormFloat64())
		look(b, r, 30, star, axis, q, z, sd)
		if _, e := b.Axis(); e.X < 0.5*b.o.Tolerance {
			t.Fatalf("sure of the axis to %.2f mm from one side of focus", e.X)
		}
		b.BranchOnFocusSide(0.98)
		look(b, r, 30, star, axis, q, -z*(0.8+0.4*r.Float64()), sd)
		a, e := b.Axis()
		if e.X > 0.3*b.o.Tolerance {
			unsure++ // it may have come back on the same side
		}
		sum += (sq((a.X-axis.X)/e.X) + sq((a.Y-axis.Y)/e.Y)) / 2
	}
	if unsure > nights/10 {
		t.Errorf("not sure from both sides in %d of %d", unsure, nights)
	}
	if rms := math.Sqrt(sum / nights); rms < 0.6 || rms > 1.3 {
		t.Errorf("error over claimed sigma %.2f RMS, want about 1", rms)
	}
}

func sq(x float64) float64 { return x * x }

// Moving the tube tells which side of focus it is: the offset answers with
// -(K + z m / f) per mm of star, which differs between the sides.
func TestPushTellsTheSide(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for _, z := range []float64{5, -5} {
		b := NewBank(optic5(t))
		axis, q := r2.Vec{X: 1, Y: -2}, r2.Vec{X: 1.5}
		look(b, r, 40, r2.Vec{X: -1, Y: 0.5}, axis, q, z, 0.003)
		look(b, r, 40, r2.Vec{X: 1, Y: -0.5}, axis, q, z, 0.003)
		if p := b.OutsideChance(); (p > 0.99) != (z > 0) || (p < 0.01) != (z < 0) {
			t.Errorf("z = %g: probability of outside %.3f", z, p)
		}
	}
}

// A racking that did not go through focus must not pass for the other side: the
// offset is the same as before, so the second look adds no proof.
func TestFalseRackingIsNoProof(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	b := NewBank(optic5(t))
	axis, q := r2.Vec{X: 0.3}, r2.Vec{X: 4, Y: 1}
	look(b, r, 40, r2.Vec{}, axis, q, 5, 0.003)
	for i := range 2 {
		b.BranchOnFocusSide(0.97) // it is thought to be through, twice, and never is
		look(b, r, 40, r2.Vec{}, axis, q, 5, 0.003)
		if b.Proven(r2.Vec{}) {
			t.Error("aligned is claimed though one side only was seen")
		}
		if p := b.SeenBoth(LeastLooks); i == 0 && p > 0.15 {
			t.Errorf("both sides are thought seen with probability %.2f", p)
		}
	}
}

// A mirror that moves unseen is noticed: the measurements stop being foretold.
func TestUnseenMoveIsNoticed(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 10))
	b := NewBank(optic5(t))
	b.Holds = true
	look(b, r, 40, r2.Vec{}, r2.Vec{}, r2.Vec{X: 1}, -4, 0.003)
	b.BranchOnFocusSide(0.98)
	look(b, r, 60, r2.Vec{}, r2.Vec{}, r2.Vec{X: 1}, 4, 0.003)
	if !b.consistent() || !b.Proven(r2.Vec{}) {
		t.Fatal("a true mirror, well seen, is not proven")
	}
	look(b, r, 12, r2.Vec{}, r2.Vec{X: 1.5}, r2.Vec{X: 1}, 4, 0.003)
	if b.consistent() || b.Proven(r2.Vec{}) {
		t.Error("a jump of the axis point by a tolerance went unnoticed")
	}
}
