package day

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

// answers are those of a 45-degree mirror: twice as far one way as the other,
// turned and mirrored by how the camera sits.
func answers(angle float64, mirrored bool) (u [3]r2.Vec) {
	for k := range u {
		c, s := direction(k)
		v := r2.Vec{X: 26 * c, Y: 13 * s}
		if mirrored {
			v.Y = -v.Y
		}
		u[k] = r2.Rotate(v, angle, r2.Vec{})
	}
	return u
}

// Two nudges, of hands a third off, tell two screws, however the camera sits, and
// mostly the third: where it is taken as known it is known.
func TestTwoNudgesTellThree(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	all := 0
	defer func() {
		if all < 25 {
			t.Errorf("only %d of 50 times all three are known", all)
		}
	}()
	for range 50 {
		u := answers(rng.Float64()*7, rng.IntN(2) == 0)
		r := newResponse(25)
		for k := range 2 {
			hand := 1 + 0.6*(rng.Float64()-0.5)
			r.learn(k, 0.125, r2.Scale(0.125*hand, u[k]), 0.05, false)
		}
		if !r.known(0) || !r.known(1) {
			t.Fatal("not known after their nudges")
		}
		if r.all() {
			all++
		}
		for k := range 3 {
			if !r.known(k) {
				continue
			}
			got, _ := r.of(k)
			cos := r2.Dot(got, u[k]) / r2.Norm(got) / r2.Norm(u[k])
			if cos < 0.85 {
				t.Errorf("screw %d answers %v, learned %v", k, u[k], got)
			}
		}
		if k, way, sure := r.posterior(0, 1, r2.Scale(-1, u[0])); k != 0 || way != -1 || !sure {
			t.Errorf("the wrong way was taken for screw %d, %+g, sure %v", k, way, sure)
		}
	}
}

// The plan brings the view home in a few turns, with hands that err by a third, and
// never backs a screw off farther than it may.
func TestPlanLeadsHomeWithinTheLimits(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	l := limits{tighten: 0.5, loosen: 0.2, back: 0.2, on: 5}
	most := 0
	for range 300 {
		u := answers(rng.Float64()*7, rng.IntN(2) == 0)
		r := newResponse(25)
		y := r2.Vec{X: 20 * rng.NormFloat64(), Y: 20 * rng.NormFloat64()}
		on := step{screws: r, limits: l, nudge: 0.15, goal: 4}
		turned := &on.turned
		n := 0
		for ; r2.Norm(y) > 4 && n < 40; n++ {
			m, ok := on.plan(r2.Scale(-1, y))
			if !ok {
				t.Fatalf("no plan for %v, turned %v", y, *turned)
			}
			if turned[m.knob]+m.turns < -l.back-1e-9 || m.turns < -l.loosen-1e-9 || m.turns > l.tighten+1e-9 {
				t.Fatalf("screw %d by %.2f turns, after %.2f", m.knob, m.turns, turned[m.knob])
			}
			did := m.turns * (1 + 0.6*(rng.Float64()-0.5))
			d := r2.Scale(did, u[m.knob])
			r.learn(m.knob, m.turns, d, 0.05, false)
			y = r2.Add(y, d)
			turned[m.knob] += did
		}
		if n == 40 {
			t.Fatalf("still %.1f mm off, turned %v", r2.Norm(y), *turned)
		}
		most = max(most, n)
	}
	if most > 25 {
		t.Errorf("it took %d turns", most)
	}
}

// scenery is how the surroundings look, turned by an angle: a dark stalk, and light
// from one side.
func scenery(angle float64, rng *rand.Rand) []float64 {
	out := make([]float64, 72)
	for i := range out {
		a := 2*math.Pi*float64(i)/72 - angle
		out[i] = 100 + 30*math.Cos(a-1) + 2*rng.NormFloat64()
		if math.Abs(math.Remainder(a, 2*math.Pi)) < 0.2 {
			out[i] = 8
		}
	}
	return out
}

func TestRotationIsSeen(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for _, want := range []float64{0, 1.2, math.Pi - 0.3, -2.5, 0.1} {
		before, after := scenery(0.4, rng), scenery(0.4+want, rng)
		for i := 10; i < 25; i++ {
			after[i] = -1 // out of sight
		}
		got, sure := rotation(before, after)
		if !sure || math.Abs(math.Remainder(got-want, 2*math.Pi)) > 0.05 {
			t.Errorf("turned by %.2f, seen %.2f, sure %v", want, got, sure)
		}
	}
	plain := make([]float64, 72)
	for i := range plain {
		plain[i] = 50 + rng.NormFloat64()
	}
	if _, sure := rotation(plain, plain[:70]); sure {
		t.Error("surroundings of another size are like")
	}
	other := make([]float64, 72)
	for i := range other {
		other[i] = 50 + rng.NormFloat64()
	}
	if _, sure := rotation(plain, other); sure {
		t.Error("surroundings without a feature tell a rotation")
	}
}

// A turn of the plug by any angle that is not small tells the mirror's error from
// the peephole's: the two pictures of the reflection are those of the derivation.
func TestPlugTellsThePeephole(t *testing.T) {
	for _, angle := range []float64{math.Pi, 2.6, -2.2, 1.4} {
		a, e := r2.Vec{X: 0.7, Y: -0.4}, r2.Vec{X: -0.3, Y: 1.1}
		before := r2.Scale(-2, r2.Sub(a, e))
		after := r2.Scale(-2, r2.Sub(r2.Rotate(a, angle, r2.Vec{}), e))
		c := &Coach{large: step{screws: newResponse(1), track: newTrack()}, small: step{screws: newResponse(1), track: newTrack()}}
		c.plug.before = before
		for i := range 10 {
			c.large.track.add(float64(i)/5, after)
		}
		c.plugTurned(angle)
		if miss := r2.Norm(r2.Sub(c.target, r2.Scale(2, e))); miss > 1e-9 {
			t.Errorf("turned by %.1f: the reflection belongs at %v, not at %v", angle, r2.Scale(2, e), c.target)
		}
	}
}
