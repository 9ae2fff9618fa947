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
