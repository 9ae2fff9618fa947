package drive

import (
	"errors"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/observe"
)

// world is a telescope whose star answers to two axes and a focuser, with play in
// the gears, drift and unrest. It knows nothing of the package's insides.
type world struct {
	t             float64
	width, height int
	star          r2.Vec
	per           [2]r2.Vec // px for each second
	play          [2]float64
	slack         [2]float64 // 0 to play: how much is taken up
	drift         r2.Vec     // px/s
	unrest        float64    // px
	pulse         [2]float64 // left to be done
	dead          bool       // the mount takes nudges and does nothing
	broken        error      // the mount says so

	ring     float64 // px; negative on the other side of focus
	perStep  float64
	at, to   float64
	speed    float64 // steps a second
	locked   bool    // the focuser counts and does not move
	hidden   bool    // no star
	flood    bool
	stopped  int
	stuck    bool // never comes to rest
	rng      *rand.Rand
	maxNudge float64
	net      [2]float64
	farthest float64
}

func newWorld(seed uint64) *world {
	return &world{
		width: 640, height: 480, star: r2.Vec{X: 480, Y: 150},
		per: [2]r2.Vec{{X: 8, Y: 5}, {X: -4, Y: 9}}, unrest: 0.6,
		ring: 50, perStep: 0.06, at: 20_000, to: 20_000, speed: 900,
		rng: rand.New(rand.NewPCG(seed, 1)),
	}
}

func (w *world) mount() *worldMount     { return &worldMount{w} }
func (w *world) focuser() *worldFocuser { return &worldFocuser{w} }

type worldMount struct{ *world }

func (m *worldMount) Nudge(p [2]float64) error {
	m.pulse = p
	for i := range p {
		m.maxNudge = math.Max(m.maxNudge, math.Abs(p[i]))
		m.net[i] += p[i]
	}
	return m.broken
}
func (m *worldMount) Busy() (bool, error) { return m.stuck || m.pulse != [2]float64{}, m.broken }
func (m *worldMount) Stop() error         { m.pulse = [2]float64{}; m.stopped++; return nil }

type worldFocuser struct{ *world }

func (f *worldFocuser) Move(steps float64) error { f.to = f.at + steps; return nil }
func (f *worldFocuser) Busy() (bool, error)      { return f.stuck || f.at != f.to, nil }
func (f *worldFocuser) Stop() error              { f.to = f.at; f.stopped++; return nil }
func (f *worldFocuser) Place() (at, least, most float64) {
	return f.at, 0, 60_000
}

// step moves the world on by a frame and looks.
func (w *world) step() observe.Sight {
	const dt = 0.1
	w.t += dt
	w.star = r2.Add(w.star, r2.Scale(dt, w.drift))
	for i, p := range w.pulse {
		did := math.Copysign(math.Min(dt, math.Abs(p)), p)
		w.pulse[i] -= did
		if w.dead {
			continue
		}
		w.slack[i] += did
		over := w.slack[i] - math.Max(0, math.Min(w.play[i], w.slack[i]))
		w.slack[i] -= over
		w.star = r2.Add(w.star, r2.Scale(over, w.per[i]))
	}
	if d := w.to - w.at; d != 0 {
		did := math.Copysign(math.Min(w.speed*dt, math.Abs(d)), d)
		w.at += did
		if !w.locked {
			w.ring += did * w.perStep
		}
		w.farthest = math.Max(w.farthest, math.Abs(w.at-20_000))
	}
	r := math.Abs(w.ring)
	seen := w.star.X > 0 && w.star.Y > 0 && w.star.X < float64(w.width) && w.star.Y < float64(w.height) && !w.hidden
	why := ""
	if w.flood {
		why = observe.TooBright
	}
	return observe.Sight{
		T: w.t, Width: w.width, Height: w.height, Seen: seen, Why: why,
		Star:  r2.Add(w.star, r2.Vec{X: w.unrest * w.rng.NormFloat64(), Y: w.unrest * w.rng.NormFloat64()}),
		Found: seen && r > 15 && r < 230, Radius: r + 0.2*w.rng.NormFloat64(),
	}
}

// off is how far the star is from the middle, px.
func (w *world) off() float64 {
	return r2.Norm(r2.Sub(w.star, r2.Vec{X: float64(w.width-1) / 2, Y: float64(w.height-1) / 2}))
}

var errNotTaken = errors.New("the drive does not take it on")

// run has a task done; each is called at every frame and may meddle.
func (w *world) run(d *Drive, task Task, each func()) (Report, float64) {
	began := w.t
	l := w.step()
	if !d.Can(task, l) {
		return Report{Doubt: errNotTaken}, 0
	}
	d.Begin(task, l)
	for w.t < began+300 {
		if each != nil {
			each()
		}
		if r := d.See(w.step()); !r.Working {
			return r, w.t - began
		}
	}
	return Report{Doubt: errors.New("no end")}, w.t - began
}
