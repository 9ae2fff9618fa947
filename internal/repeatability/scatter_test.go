package repeatability_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/repeatability"
)

func seatings(r *rand.Rand, n int, x, y float64) (looks []repeatability.Look) {
	for range n {
		looks = append(looks, repeatability.Look{At: r2.Vec{X: 3 + x*r.NormFloat64(), Y: -2 + y*r.NormFloat64()}})
	}
	return looks
}

// For a round scatter the bound is that of the prediction circle,
// sqrt(2 (1 + 1/n) F(0.99; 2, 2n-2)) sd; tables print F = 18.00, 8.65, 6.01 for 2 and
// 4, 8, 18 degrees of freedom (any handbook of statistics; from memory, and the
// closed form (v/2) (0.01^(-2/v) - 1) gives them).
func TestBoundAgainstTablesOfF(t *testing.T) {
	for n, f := range map[int]float64{3: 18.00, 5: 8.65, 10: 6.01} {
		var looks []repeatability.Look
		for i := range n { // a regular polygon scatters alike in all directions
			s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
			looks = append(looks, repeatability.Look{At: r2.Vec{X: c, Y: s}})
		}
		got := repeatability.Spread(looks)
		sd := math.Sqrt(float64(n) / float64(n-1) / 2)
		want := sd * math.Sqrt(2*(1+1/float64(n))*f)
		if math.Abs(got.SD-sd) > 1e-12 || math.Abs(got.Bound/want-1) > 0.001 || math.Abs(got.Worst-1) > 1e-12 {
			t.Errorf("%d looks: sd %.4f bound %.4f worst %.4f; want %.4f, %.4f, 1", n, got.SD, got.Bound, got.Worst, sd, want)
		}
	}
}

// The next seating falls within the bound 99 times in 100, whether the scatter is
// round, long or a line: counted.
func TestBoundHoldsWhatItSays(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for _, n := range []int{4, 8, 20} {
		for _, y := range []float64{1, 0.4, 0} {
			const runs = 4000
			in := 0
			for range runs {
				s := repeatability.Spread(seatings(r, n, 1, y))
				next := seatings(r, 1, 1, y)[0]
				if r2.Norm(r2.Sub(next.At, s.Mean)) <= s.Bound {
					in++
				}
			}
			// 0.16 % is the counting error of 4000 runs.
			if part := float64(in) / runs; part < 0.984 {
				t.Errorf("%d looks, %g across: %.4f of the next are within the bound", n, y, part)
			}
		}
	}
}

func TestVerdicts(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 10))
	noisy := seatings(r, 12, 1, 1)
	for i := range noisy {
		noisy[i].Sigma = 1
	}
	for name, c := range map[string]struct {
		looks     []repeatability.Look
		tolerance float64
		want      repeatability.Verdict
	}{
		"two looks":        {seatings(r, 2, 0.01, 0.01), 1, repeatability.CannotTell},
		"firm":             {seatings(r, 8, 0.03, 0.03), 1, repeatability.Trusted},
		"soft":             {seatings(r, 12, 0.15, 0.15), 1, repeatability.WithCare},
		"loose":            {seatings(r, 10, 1, 1), 1, repeatability.NotTrusted},
		"three, too wide":  {seatings(r, 3, 0.25, 0.25), 1, repeatability.CannotTell},
		"measured poorly":  {noisy, 1, repeatability.CannotTell},
		"all at one place": {seatings(r, 5, 0, 0), 1, repeatability.Trusted},
	} {
		s := repeatability.Spread(c.looks)
		for i := range c.looks { // in another unit it is the same
			c.looks[i].At, c.looks[i].Sigma = r2.Scale(10, c.looks[i].At), 10*c.looks[i].Sigma
		}
		if tenth := repeatability.Spread(c.looks); tenth.Judge(10*c.tolerance) != c.want || tenth.Needed(10*c.tolerance) != s.Needed(c.tolerance) {
			t.Errorf("%s, in tenths: %s, want %s", name, tenth.Judge(10*c.tolerance), c.want)
		}
		if got := s.Judge(c.tolerance); got != c.want {
			t.Errorf("%s: %s (%+v), want %s", name, got, s, c.want)
		}
	}
}

// So many seatings averaged are as good as Needed says: counted on fresh ones.
func TestNeeded(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	s := repeatability.Spread(seatings(r, 100, 0.5, 0.5))
	n := s.Needed(1)
	if n < 20 || n > 60 { // (0.5 * 3.03 / 0.3)^2 = 25.5 for a known scatter
		t.Fatalf("%d needed", n)
	}
	in := 0
	for range 2000 {
		if m := repeatability.Spread(seatings(r, n, 0.5, 0.5)).Mean; r2.Norm(r2.Sub(m, r2.Vec{X: 3, Y: -2})) <= repeatability.Share {
			in++
		}
	}
	if in < 1960 {
		t.Errorf("only %d of 2000 means of %d were within", in, n)
	}
	if got := repeatability.Spread(seatings(r, 8, 9, 9)).Needed(1); got != 0 {
		t.Errorf("hopeless: %d needed", got)
	}
}

func round(r *rand.Rand, n int, turn, radius, noise float64) (looks []repeatability.Look) {
	for i := range n {
		s, c := math.Sincos(turn * float64(i) / float64(n))
		looks = append(looks, repeatability.Look{At: r2.Vec{X: 600 + radius*c + noise*r.NormFloat64(), Y: 500 + radius*s + noise*r.NormFloat64()}})
	}
	return looks
}

// Full circles: the centre's sigma is noise * sqrt(2/n) per axis (Chan 1965, from
// memory; calculated), errors in sigmas scatter by 1, and the bound holds.
func TestTurnedCentre(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 14))
	const n, noise, runs = 10, 2.0, 1500
	var pulls, sigma float64
	in := 0
	for range runs {
		c, err := repeatability.Turn(round(r, n, 2*math.Pi, 150, noise))
		if err != nil {
			t.Fatal(err)
		}
		off := r2.Vec{X: c.X - 600, Y: c.Y - 500}
		pulls += off.X * off.X / (c.CentreSigma.X * c.CentreSigma.X)
		sigma += c.CentreSigma.X * c.CentreSigma.X / runs
		if r2.Norm(off) <= c.Bound {
			in++
		}
	}
	if want := noise * math.Sqrt(2.0/n); math.Abs(math.Sqrt(sigma)/want-1) > 0.05 {
		t.Errorf("sigma %.3f, want %.3f", math.Sqrt(sigma), want)
	}
	// Student's t with 7 degrees of freedom has variance 7/5.
	if v := pulls / runs; v < 1.2 || v > 1.65 {
		t.Errorf("errors in sigmas have variance %.2f, want 1.4", v)
	}
	if in < runs*983/1000 {
		t.Errorf("%d of %d centres were within the bound", in, runs)
	}
}

func TestTurnRefuses(t *testing.T) {
	r := rand.New(rand.NewPCG(15, 16))
	var cloud []repeatability.Look // of a camera that was only pushed
	for _, p := range []r2.Vec{{X: 2}, {X: -1, Y: 1}, {Y: -2}, {X: 0.3, Y: 0.2}, {X: -0.4}, {X: 0.1, Y: 0.9}, {X: 1, Y: -1}} {
		cloud = append(cloud, repeatability.Look{At: p})
	}
	for name, c := range map[string]struct {
		looks []repeatability.Look
		want  error
	}{
		"few":        {round(r, 4, 2*math.Pi, 100, 1), repeatability.ErrFewTurns},
		"not turned": {cloud, repeatability.ErrNoCircle},
		"half way":   {round(r, 8, 1.5, 150, 1), repeatability.ErrShortArc},
	} {
		if got, err := repeatability.Turn(c.looks); !errors.Is(err, c.want) {
			t.Errorf("%s: %+v, %v; want %v", name, got, err, c.want)
		}
	}
}

// 1 mm at 3437.75 mm is an arc minute (180 * 60 / pi).
func TestTilt(t *testing.T) {
	if got := repeatability.Tilt(1, 3437.75) * 180 / math.Pi * 60; math.Abs(got-1) > 1e-4 {
		t.Errorf("%g arcmin", got)
	}
}
