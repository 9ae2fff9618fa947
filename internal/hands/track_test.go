package hands

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

// walk plays a star that drifts, trembles and is moved once.
func walk(k *Track, drift r2.Vec, tremble float64, moveAt, moveBy float64, seconds float64) (moved r2.Vec, share float64) {
	r := rand.New(rand.NewPCG(17, 18))
	for i := 0; float64(i)/10 < seconds; i++ {
		t := float64(i) / 10
		s := r2.Add(r2.Scale(t, drift), r2.Vec{X: tremble * r.NormFloat64(), Y: tremble * r.NormFloat64()})
		if t > moveAt {
			s.X += moveBy * math.Min(1, (t-moveAt)/0.8)
		}
		d := k.Add(t, s)
		if t > moveAt {
			moved = r2.Add(moved, d)
		} else if t > 1.5 && k.Moving() {
			share += 1 / (10 * (moveAt - 1.5))
		}
		if t < moveAt && !k.Moving() {
			k.LearnDrift(t)
		}
	}
	return moved, share
}

// Drift is learned and taken off, trembling is not taken for a move, and a move
// is measured within its noise.
func TestTrackTellsMoveFromDriftAndTremble(t *testing.T) {
	for _, c := range []struct{ drift, tremble float64 }{{0, 0.003}, {0.05, 0.003}, {0.02, 0.015}} {
		k := NewTrack(1000)
		moved, early := walk(k, r2.Vec{X: 0.3 * c.drift, Y: c.drift}, c.tremble, 6, 0.9, 9)
		if early > 0.05 {
			t.Errorf("drift %g, tremble %g: taken for a move in %.0f %% of frames", c.drift, c.tremble, 100*early)
		}
		if d := math.Hypot(moved.X-0.9, moved.Y); d > 0.03+4*c.tremble {
			t.Errorf("drift %g, tremble %g: moved by %v, truly 0.9", c.drift, c.tremble, moved)
		}
	}
}

// still feeds n places at ten a second about a point, with a tremble of one-sigma sd.
func still(k *Track, r *rand.Rand, from float64, n int, at r2.Vec, sd float64) (shaken float64) {
	for i := range n {
		k.Add(from+float64(i)/10, r2.Add(at, r2.Vec{X: sd * r.NormFloat64(), Y: sd * r.NormFloat64()}))
		shaken += k.Shaken / float64(n)
	}
	return shaken
}

// The jitter becomes the one-sigma of the tremble, follows it when the air changes, and one
// place far out moves it little. Unrest as usual is 1.
func TestJitterIsTheTremble(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 22))
	k := NewTrack(1000)
	still(k, r, 0, 200, r2.Vec{}, 0.010)
	if shaken := still(k, r, 20, 200, r2.Vec{}, 0.010); math.Abs(k.Jitter/0.010-1) > 0.2 || math.Abs(shaken-1) > 0.2 {
		t.Errorf("jitter %.4f of a tremble of 0.010, unrest %.2f", k.Jitter, shaken)
	}
	still(k, r, 40, 400, r2.Vec{}, 0.005)
	was := k.Jitter
	if math.Abs(was/0.005-1) > 0.2 {
		t.Errorf("jitter %.4f of a tremble of 0.005", was)
	}
	still(k, r, 80, 1, r2.Vec{X: 0.05}, 0)
	if still(k, r, 80.1, 2, r2.Vec{}, 0); k.Jitter > 1.5*was {
		t.Errorf("one place far out takes the jitter from %.4f to %.4f", was, k.Jitter)
	}
}

// While a hand moves the star its unrest is not taken for the air's.
func TestJitterIsNotOfTheHand(t *testing.T) {
	r := rand.New(rand.NewPCG(23, 24))
	k := NewTrack(1000)
	still(k, r, 0, 100, r2.Vec{}, 0.003)
	was := k.Jitter
	for i := range 30 {
		k.Add(10+float64(i)/10, r2.Vec{X: 0.2*float64(i) + 0.05*r.NormFloat64()})
	}
	if !math.IsNaN(k.Still) || k.Jitter > 2*was {
		t.Errorf("still since %g, jitter from %.4f to %.4f", k.Still, was, k.Jitter)
	}
}

// A move in the first second is seen, though it might be drift, if it is far faster than
// the sky.
func TestEarlyMoveIsSeen(t *testing.T) {
	k := NewTrack(1000)
	for i := range 8 {
		k.Add(float64(i)/10, r2.Vec{X: 0.1 * float64(i)})
	}
	if !k.Moving() {
		t.Error("1 mm/s is not taken for a move")
	}
}

// A short look does not replace the drift of a long one; one that is half as long does.
func TestLongLookAtTheDriftIsKept(t *testing.T) {
	k := NewTrack(1000)
	at, now := r2.Vec{}, 0.0
	run := func(v r2.Vec, seconds float64) {
		for end := now + seconds; now < end; now += 0.1 {
			k.Add(now, at)
			if !k.Moving() {
				k.LearnDrift(now)
			}
			at = r2.Add(at, r2.Scale(0.1, v))
		}
	}
	run(r2.Vec{X: 0.02}, 5)
	run(r2.Vec{X: 3}, 0.5)
	run(r2.Vec{X: 0.02, Y: 0.03}, 1.6)
	if math.Abs(k.Drift.X-0.02) > 1e-3 || math.Abs(k.Drift.Y) > 1e-3 {
		t.Errorf("after a look of a second the drift is %v", k.Drift)
	}
	if run(r2.Vec{X: 0.02, Y: 0.03}, 3); math.Abs(k.Drift.Y-0.03) > 1e-3 {
		t.Errorf("after a look of four seconds the drift is %v", k.Drift)
	}
}

// The present place is brought up to date by the drift: of a star that only drifts it is where
// the star is.
func TestNowFollowsTheDrift(t *testing.T) {
	k := NewTrack(1000)
	v := r2.Vec{X: 0.04, Y: -0.03}
	var at r2.Vec
	for i := range 40 {
		at = r2.Scale(float64(i)/10, v)
		k.Add(float64(i)/10, at)
		k.LearnDrift(float64(i) / 10)
	}
	if off := r2.Norm(r2.Sub(k.Now(), at)); off > 1e-6 {
		t.Errorf("%g mm from where the star is", off)
	}
}
