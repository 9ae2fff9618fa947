package coach

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// responses is what is known of the knobs: which way each moves the star in the
// frame, and how far a turn takes it. Three knobs stand at known clock positions
// on one cell, so one rotation and one parity (is the picture mirrored?) say it
// all: a grid over both holds the odds. Hands err, so what was seen is explained
// by the knob that was asked for or, less likely, by another or the wrong way.
type responses struct {
	knobs []Knob
	logW  [2][bins]float64 // by parity and rotation
	gain  [3]float64       // log of the star's mm per asked turn
	sd    [3]float64       // its one-sigma
	way   [3]float64       // which way each knob went last: +1, -1 or 0
	seen  [3]int

	nominal float64 // the gain that the thread and the bolt circle give
}

const (
	bins      = 120
	knobAngle = 0.11 // radians: how well knobs stand where they should
)

// What hands do when a knob is named. Common practice, no source.
const (
	rightKnob  = 0.90
	wrongWay   = 0.04
	otherKnob  = 0.022 // each of the two
	otherWrong = 0.004
)

func newResponses(knobs []Knob, gain float64) *responses {
	r := &responses{knobs: knobs, nominal: gain}
	for k := range r.gain {
		r.gain[k], r.sd[k] = math.Log(gain), 0.3
	}
	return r
}

// angle returns where knob k, tightened, takes the star in one cell of the grid.
func (r *responses) angle(parity, bin, k int) float64 {
	at := r.knobs[k].Clock * math.Pi / 6
	if parity == 1 {
		at = -at
	}
	return at + (float64(bin)+0.5)*2*math.Pi/bins
}

func wrap(a float64) float64 { return math.Remainder(a, 2*math.Pi) }

// observe takes in that knob k was asked to go way (+1 tightens) by turns, and
// the star jumped; cut says that the turn was stopped short. It returns the odds of what was really done, by knob and way
// (0 as asked for tightening, 1 for loosening).
func (r *responses) observe(k int, way, turns float64, jump r2.Vec, jitter float64, cut bool) (did [3][2]float64) {
	size := r2.Norm(jump)
	did = r.explain(k, way, jump, jitter, true)
	if did[k][wayIndex(way)] > 0.5 {
		lost := r.lost(k, way)
		eff := math.Max(turns-lost, 0.3*turns)
		// Cut short, a turn tells only that the gain is no less.
		if per := size / eff; !cut || per > r.perTurn(k) {
			r.learnGain(k, per, math.Hypot(0.22, 0.7*lost/eff))
		}
		r.way[k] = way
		r.seen[k]++
	}
	return did
}

// explain weighs what was done against the grid; with learn it also updates it.
func (r *responses) explain(k int, way float64, jump r2.Vec, jitter float64, learn bool) (did [3][2]float64) {
	seen := math.Atan2(jump.Y, jump.X)
	sd := math.Hypot(knobAngle, 1.5*jitter/math.Max(r2.Norm(jump), 1e-6))
	top := math.Inf(-1)
	total := 0.0
	max := r.top()
	for p := range r.logW {
		for b := range r.logW[p] {
			prior := math.Exp(r.logW[p][b] - max)
			sum := 0.004 * prior // a kick, from anywhere
			for k2 := range r.knobs {
				for w2, way2 := range [2]float64{1, -1} {
					odds := prior * blame(k2 == k, way2 == way)
					a := r.angle(p, b, k2)
					if way2 < 0 {
						a += math.Pi
					}
					x := wrap(a-seen) / sd
					l := odds * math.Exp(-0.5*x*x)
					did[k2][w2] += l
					sum += l
				}
			}
			total += sum
			if learn {
				r.logW[p][b] += math.Log(sum/prior + 1e-12)
				top = math.Max(top, r.logW[p][b])
			}
		}
	}
	for p := range r.logW {
		for b := range r.logW[p] {
			if learn {
				r.logW[p][b] = math.Max(r.logW[p][b]-top, -12)
			}
		}
	}
	for i := range did {
		did[i][0] /= total
		did[i][1] /= total
	}
	return did
}

// wayIndex is where the odds of a way stand: 0 for tightening, 1 for loosening.
func wayIndex(way float64) int {
	if way < 0 {
		return 1
	}
	return 0
}

func blame(sameKnob, sameWay bool) float64 {
	switch {
	case sameKnob && sameWay:
		return rightKnob
	case sameKnob:
		return wrongWay
	case sameWay:
		return otherKnob
	}
	return otherWrong
}

func (r *responses) top() float64 {
	top := math.Inf(-1)
	for p := range r.logW {
		for _, l := range r.logW[p] {
			top = math.Max(top, l)
		}
	}
	return top
}

// learnGain takes in the star's mm per asked turn. The hand's own error is the
// larger part; what one knob teaches holds mostly for the others too.
func (r *responses) learnGain(k int, perTurn, hand float64) {
	const apart = 0.1
	for i := range r.gain {
		v := r.sd[i] * r.sd[i]
		noise := hand * hand
		if i != k {
			noise += 2 * apart * apart
		}
		g := v / (v + noise)
		perTurn = math.Min(math.Max(perTurn, r.nominal/3), r.nominal*3)
		r.gain[i] += g * (math.Log(perTurn) - r.gain[i])
		r.sd[i] = math.Sqrt(v * (1 - g))
	}
}

// play is the part of a turn that a thread usually loses when it is reversed.
// Common practice, no source.
const play = 0.025

// lost returns the turns that knob k is expected to lose before the mirror
// follows it that way.
func (r *responses) lost(k int, way float64) float64 {
	switch r.way[k] {
	case way:
		return 0
	case 0:
		return play / 2
	}
	return play
}

// perTurn returns the star's expected mm per asked turn of knob k.
func (r *responses) perTurn(k int) float64 { return math.Exp(r.gain[k]) }

// mode is one likely orientation of the knobs in the frame.
type mode struct {
	p   float64
	dir [3]r2.Vec // where each knob, tightened, takes the star
}

// modes returns the orientations that matter, with their odds; none where
// nothing is known yet.
func (r *responses) modes() []mode {
	top, sum := r.top(), 0.0
	var out []mode
	for p := range r.logW {
		for b, l := range r.logW[p] {
			w := math.Exp(l - top)
			if w < 0.05 {
				continue
			}
			m := mode{p: w}
			for k := range r.knobs {
				s, c := math.Sincos(r.angle(p, b, k))
				m.dir[k] = r2.Vec{X: c, Y: s}
			}
			out = append(out, m)
			sum += w
		}
	}
	if len(out) > bins {
		return nil
	}
	for i := range out {
		out[i].p /= sum
	}
	return out
}

// certain reports whether the orientation is known well enough to tell a hand
// that it is at the wrong knob.
func (r *responses) certain() bool {
	n := 0
	for _, s := range r.seen {
		n += s
	}
	m := r.modes()
	if len(m) == 0 || n < 2 {
		return false
	}
	known := knownKnobs(m)
	return known[0] && known[1] && known[2]
}
