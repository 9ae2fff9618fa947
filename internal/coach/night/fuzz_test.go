package night

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio/command"
	"halocue/internal/coach"
	"halocue/internal/cue"
	"halocue/internal/observe"
)

// Whatever a camera shows, in whatever order, with commands thrown in and numbers
// that are none, the coach neither panics nor says a turn of no size.
func FuzzSee(f *testing.F) {
	for seed := range uint64(10) {
		f.Add(seed)
	}
	whys := []string{"dark", "too-bright", "no-ring", "focused", "no-shadow", "cut-off", "clipped", "faint", "blurred", "two-stars", "", "?"}
	commands := []command.Command{command.GoOn, command.Wait, command.Next, command.Back, command.Undo, command.WhichKnob, command.Status, command.OtherSide, "?"}
	f.Fuzz(func(t *testing.T, seed uint64) {
		r := rand.New(rand.NewPCG(seed, 19))
		p := newScript(t, Settings{Settings: coach.Settings{Locks: r.IntN(2) == 0}})
		strange := func(x float64) float64 {
			switch r.IntN(300) {
			case 0:
				return math.NaN()
			case 1:
				return math.Inf(1)
			case 2:
				return -1e9 * x
			}
			return x
		}
		for range 60 {
			s := observe.Sight{Why: whys[r.IntN(len(whys))]}
			if r.IntN(4) > 0 {
				s = ringAt(strange(1280*r.Float64()), strange(960*r.Float64()), strange(10+300*r.Float64()))
				s.Offset = r2.Vec{X: strange(4 * r.NormFloat64()), Y: strange(4 * r.NormFloat64())}
			}
			p.show(3*r.Float64(), s)
			if r.IntN(10) == 0 {
				p.hear(p.c.Hear(commands[r.IntN(len(commands))], p.t))
			}
		}
		for _, c := range p.said {
			if c.Action == cue.Turn && !(c.Turns > 0 && c.Turns < 3) {
				t.Errorf("turn by %g", c.Turns)
			}
			if c.Action == cue.Done && c.Result == cue.Aligned {
				t.Errorf("aligned, after nothing but noise: %+v", c)
			}
		}
	})
}

// An unasked racking through focus is noticed: afterwards the side is in doubt.
func TestUnaskedRackingIsNoticed(t *testing.T) {
	p := newScript(t, Settings{})
	p.c.pause.On = true // nothing is asked
	p.show(5, ringAt(640, 480, 100))
	before := p.c.bank.Hypotheses()
	for radius := 100.0; radius > 10; radius -= 10 {
		p.show(0.1, ringAt(640, 480, radius))
	}
	p.show(0.5, observe.Sight{Why: "focused"})
	for radius := 10.0; radius < 100; radius += 10 {
		p.show(0.1, ringAt(640, 480, radius))
	}
	p.show(2, ringAt(640, 480, 100))
	if after := p.c.bank.Hypotheses(); after <= before {
		t.Errorf("%d accounts before and %d after", before, after)
	}
}
