package coach

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// Memory is what one night teaches the next. Lengths mm on the sensor.
type Memory struct {
	Mirrored             float64    // probability that the picture is mirrored, 0 to 1
	Rotation, RotationSD float64    // of the knobs in the frame, radians, for the likelier parity
	PerTurn              [3]float64 // how far the star goes in a turn of each knob, > 0
	PerTurnSD            [3]float64 // one-sigma of its logarithm
	Reaction             float64    // seconds from the words to the move
	Axis                 *r2.Vec    // the axis point relative to the target at the last proof, or nil
}

// Memory returns what this night has taught; ok is false as long as that is
// nothing.
func (c *Coach) Memory() (m Memory, ok bool) {
	modes := c.knobs.modes()
	if modes == nil {
		return Memory{}, false
	}
	m.Mirrored, m.Rotation, m.RotationSD = c.knobs.orientation()
	for k := range m.PerTurn {
		m.PerTurn[k], m.PerTurnSD[k] = c.knobs.perTurn(k), c.knobs.sd[k]
	}
	m.Reaction = c.reaction
	if c.proven != nil {
		a := *c.proven
		m.Axis = &a
	}
	return m, true
}

// orientation sums the grid up: the odds of a mirrored picture, and for the
// likelier parity the mean rotation and its spread.
func (r *responses) orientation() (mirrored, rotation, sd float64) {
	top := r.top()
	var sum [2]float64
	var x, y [2]float64
	for p := range r.logW {
		for b, l := range r.logW[p] {
			w := math.Exp(l - top)
			s, c := math.Sincos((float64(b) + 0.5) * 2 * math.Pi / bins)
			sum[p] += w
			x[p] += w * c
			y[p] += w * s
		}
	}
	p := 0
	if sum[1] > sum[0] {
		p = 1
	}
	length := math.Hypot(x[p], y[p]) / sum[p]
	return sum[1] / (sum[0] + sum[1]), math.Atan2(y[p], x[p]), math.Sqrt(-2 * math.Log(math.Min(length, 1-1e-6)))
}

// recall begins with what an earlier night taught, with widened sigma: the camera
// may have been turned since, the hand may be another.
func (r *responses) recall(m *Memory) {
	const (
		turned  = 0.3  // chance that the camera sits otherwise now
		loosely = 0.15 // radians, if it does not
	)
	sd := math.Hypot(m.RotationSD, loosely)
	likelier := 0
	if m.Mirrored > 0.5 {
		likelier = 1
	}
	for p := range r.logW {
		odds := math.Min(math.Max(m.Mirrored, 0.02), 0.98)
		if p == 0 {
			odds = 1 - odds
		}
		for b := range r.logW[p] {
			w := 1.0 / bins
			if p == likelier {
				x := wrap((float64(b)+0.5)*2*math.Pi/bins-m.Rotation) / sd
				w = turned/bins + (1-turned)*math.Exp(-0.5*x*x)*2*math.Pi/bins/(sd*math.Sqrt(2*math.Pi))
			}
			r.logW[p][b] = math.Log(odds * w)
		}
	}
	for k := range r.gain {
		if m.PerTurn[k] > 0 {
			r.gain[k] = math.Log(m.PerTurn[k])
			r.sd[k] = math.Hypot(m.PerTurnSD[k], 0.15)
		}
	}
}
