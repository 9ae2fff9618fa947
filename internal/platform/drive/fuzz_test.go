package drive

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/observe"
)

// Whatever the camera shows, numbers among it that are none, no nudge and no move is
// longer than allowed, nor is their sum; and after its report the motors rest.
func FuzzDrive(f *testing.F) {
	for seed := range uint64(20) {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, seed uint64) {
		r := rand.New(rand.NewPCG(seed, 5))
		w := newWorld(seed)
		w.per[0] = r2.Scale(3*r.NormFloat64(), w.per[0])
		w.perStep *= 5 * r.NormFloat64()
		limits := Limits{Nudge: 3, Reach: 40, Steps: 3000}
		d := New(w.mount(), w.focuser(), limits)
		strange := func(x float64) float64 {
			switch r.IntN(60) {
			case 0:
				return math.NaN()
			case 1:
				return math.Inf(-1)
			case 2:
				return 1e9 * r.NormFloat64()
			}
			return x
		}
		for range 600 {
			l := w.step()
			l.Star = r2.Vec{X: strange(l.Star.X), Y: strange(l.Star.Y)}
			l.Radius = strange(l.Radius)
			l.Seen, l.Found = l.Seen != (r.IntN(30) == 0), l.Found != (r.IntN(30) == 0)
			if r.IntN(400) == 0 {
				l.Why = observe.TooBright
			}
			if task := Task(1 + r.IntN(4)); d.Can(task, l) && r.IntN(3) == 0 {
				d.Begin(task, l)
			} else if d.Passed(task); r.IntN(200) == 0 {
				d.Stop()
			} else if rep := d.See(l); !rep.Working && (w.pulse != [2]float64{} || w.at != w.to) {
				t.Fatalf("%+v, and the motors move: %v, %g to %g", rep, w.pulse, w.at, w.to)
			}
			if w.maxNudge > 3+1e-9 || !(math.Abs(w.net[0]) <= 40+1e-9 && math.Abs(w.net[1]) <= 40+1e-9) || !(w.farthest <= 3000) {
				t.Fatalf("nudge of %g s, in all %v s, focuser %g steps away", w.maxNudge, w.net, w.farthest)
			}
		}
	})
}
