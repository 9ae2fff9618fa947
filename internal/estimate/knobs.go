package estimate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"
)

// KnobModel is what is known of the knobs: which way each moves the star in the
// frame, and how far a turn takes it. Three knobs stand at known clock positions
// on one cell, so one rotation and one parity (is the picture mirrored?) say it
// all: a grid over both holds the odds. Hands err, so what was seen is explained
// by the knob that was asked for or, less likely, by another or the wrong way.
// NewKnobModel makes one; a copy of it is a model of its own.
type KnobModel struct {
	clock    [3]float64        // where each knob is, hours, seen from behind
	logW     [2 * bins]float64 // log-weight of each cell: by parity, then by rotation
	gain     [3]float64        // log of the star's mm per asked turn
	sd       [3]float64        // its one-sigma
	lastSign [3]float64        // which way each knob went last: +1, -1 or 0
	turns    int               // that were made as they were asked for

	nominal float64 // the gain that the thread and the bolt circle give
}

const (
	bins      = 120  // of the rotation
	knobAngle = 0.11 // radians: how well knobs stand where they should
)

// priorOdds is how often hands turn the knob that is named, or another, and that way, or
// the other. Common practice, no source.
var priorOdds = map[bool]map[bool]float64{ // same knob, same way
	true:  {true: 0.90, false: 0.04},
	false: {true: 0.022, false: 0.004}, // each of the two
}

// NewKnobModel returns what is known before any turn: knobs at the clock positions, hours
// as seen from behind the mirror, and a gain, mm of the star a turn, > 0, from the thread
// and the bolt circle, within a factor of e^0.3.
func NewKnobModel(clock [3]float64, gain float64) *KnobModel {
	r := &KnobModel{clock: clock, nominal: gain}
	for k := range r.gain {
		r.gain[k], r.sd[k] = math.Log(gain), 0.3
	}
	return r
}

// cell returns parity (1 is mirrored) and rotation, radians, of a cell of the grid.
func cell(i int) (parity int, rotation float64) {
	return i / bins, (float64(i%bins) + 0.5) * 2 * math.Pi / bins
}

// angle returns where knob k, tightened, takes the star in a cell of the grid.
func (r *KnobModel) angle(i, k int) float64 {
	at := r.clock[k] * math.Pi / 6
	parity, rotation := cell(i)
	if parity == 1 {
		at = -at
	}
	return at + rotation
}

func wrap(a float64) float64 { return math.Remainder(a, 2*math.Pi) }

// Turn is a turn that was asked for, and how the star moved.
type Turn struct {
	Knob   int
	Sign   float64 // +1 tightens, -1 loosens
	Turns  float64 // > 0
	Jump   r2.Vec  // of the star, mm
	Jitter float64 // of the star, mm per axis
	Cut    bool    // it was stopped short
}

// Observe takes in a turn. It returns the probability of what was really done, by knob and
// SignIndex.
func (r *KnobModel) Observe(t Turn) (did [3][2]float64) {
	k := t.Knob
	did = r.weigh(t, true)
	if did[k][SignIndex(t.Sign)] > 0.5 {
		lost := r.Backlash(k, t.Sign)
		eff := math.Max(t.Turns-lost, 0.3*t.Turns)
		// Cut short, a turn tells only that the gain is no less.
		if per := r2.Norm(t.Jump) / eff; !t.Cut || per > r.PerTurn(k) {
			r.learnGain(k, per, math.Hypot(0.22, 0.7*lost/eff))
		}
		r.lastSign[k] = t.Sign
		r.turns++
	}
	return did
}

// Posterior weighs what was done against the grid: the probability, by knob and SignIndex,
// of each turn that may have made the star jump, by Bayes' rule with priorOdds.
func (r *KnobModel) Posterior(t Turn) (did [3][2]float64) { return r.weigh(t, false) }

// weigh returns the Posterior; with learn the grid takes it in as well.
func (r *KnobModel) weigh(t Turn, learn bool) (did [3][2]float64) {
	seen := math.Atan2(t.Jump.Y, t.Jump.X)
	sd := math.Hypot(knobAngle, 1.5*t.Jitter/math.Max(r2.Norm(t.Jump), 1e-6))
	top := math.Inf(-1)
	total := 0.0
	var odds [3][2]float64
	for k2 := range odds {
		odds[k2] = [2]float64{priorOdds[k2 == t.Knob][t.Sign > 0], priorOdds[k2 == t.Knob][t.Sign < 0]}
	}
	most := slices.Max(r.logW[:])
	for i := range r.logW {
		prior := math.Exp(r.logW[i] - most)
		sum := 0.004 * prior // a kick, from anywhere
		for k2 := range r.clock {
			for w2, sign2 := range [2]float64{1, -1} {
				a := r.angle(i, k2)
				if sign2 < 0 {
					a += math.Pi
				}
				x := wrap(a-seen) / sd
				l := prior * odds[k2][w2] * math.Exp(-0.5*x*x)
				did[k2][w2] += l
				sum += l
			}
		}
		total += sum
		if learn {
			r.logW[i] += math.Log(sum/prior + 1e-12)
			top = math.Max(top, r.logW[i])
		}
	}
	for i := range r.logW {
		if learn {
			r.logW[i] = math.Max(r.logW[i]-top, -12)
		}
	}
	for k := range did {
		did[k][0] /= total
		did[k][1] /= total
	}
	return did
}

// SignIndex is where the odds of a sign stand: 0 for tightening (+1), 1 for loosening (-1).
func SignIndex(sign float64) int {
	if sign < 0 {
		return 1
	}
	return 0
}

// learnGain takes in the star's mm per asked turn. The hand's own error is the
// larger part; what one knob teaches holds mostly for the others too.
func (r *KnobModel) learnGain(k int, perTurn, hand float64) {
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

// backlash is the part of a turn that a thread usually loses when it is reversed.
// Common practice, no source.
const backlash = 0.025

// Backlash returns the turns, >= 0, that knob k is expected to lose before the mirror
// follows it in the direction of sign.
func (r *KnobModel) Backlash(k int, sign float64) float64 {
	switch r.lastSign[k] {
	case sign:
		return 0
	case 0:
		return backlash / 2
	}
	return backlash
}

// Reverses reports whether knob k went the other way last, so that turning it in the
// direction of sign takes up its thread's backlash first.
func (r *KnobModel) Reverses(k int, sign float64) bool {
	return r.lastSign[k] != 0 && r.lastSign[k] != sign
}

// PerTurnSD returns the one-sigma of the natural logarithm of PerTurn.
func (r *KnobModel) PerTurnSD(k int) float64 { return r.sd[k] }

// PerTurn returns how far the star is expected to go in an asked turn of knob k, mm, > 0.
func (r *KnobModel) PerTurn(k int) float64 { return math.Exp(r.gain[k]) }

// Orientation is one likely orientation of the knobs in the frame.
type Orientation struct {
	Chance    float64   // its probability, 0 to 1
	Direction [3]r2.Vec // where each knob, tightened, takes the star: unit vectors
}

// Orientations returns the orientations that matter, with probabilities that sum to 1; none
// where nothing is known yet.
func (r *KnobModel) Orientations() []Orientation {
	top, sum := slices.Max(r.logW[:]), 0.0
	var out []Orientation
	for i, l := range r.logW {
		w := math.Exp(l - top)
		if w < 0.05 {
			continue
		}
		m := Orientation{Chance: w}
		for k := range r.clock {
			s, c := math.Sincos(r.angle(i, k))
			m.Direction[k] = r2.Vec{X: c, Y: s}
		}
		out = append(out, m)
		sum += w
	}
	if len(out) > bins {
		return nil
	}
	for i := range out {
		out[i].Chance /= sum
	}
	return out
}

// Certain reports whether the orientation is known well enough to tell a hand
// that it is at the wrong knob: two turns at least, and the direction of every knob.
func (r *KnobModel) Certain() bool {
	m := r.Orientations()
	if len(m) == 0 || r.turns < 2 {
		return false
	}
	known := KnownKnobs(m)
	return known[0] && known[1] && known[2]
}

// KnownKnobs returns which knobs' directions are the same in all likely orientations: those
// whose mean direction is longer than 0.85.
func KnownKnobs(modes []Orientation) (known [3]bool) {
	for k := range known {
		var mean r2.Vec
		for _, m := range modes {
			mean = r2.Add(mean, r2.Scale(m.Chance, m.Direction[k]))
		}
		known[k] = r2.Norm(mean) > 0.85
	}
	return known
}

// KnobMemory is what one night teaches the next of the knobs.
type KnobMemory struct {
	Mirrored             float64    // probability that the picture is mirrored, 0 to 1
	Rotation, RotationSD float64    // of the knobs in the frame, radians, for the likelier parity
	PerTurn              [3]float64 // how far the star goes in a turn of each knob, mm, > 0; 0 is not known
	PerTurnSD            [3]float64 // one-sigma of its logarithm
}

// Memory sums the model up; the rotation is the mean of the grid, -pi to pi, with its circular
// one-sigma (Mardia, Statistics of Directional Data, 1972; from memory).
func (r *KnobModel) Memory() (m KnobMemory) {
	top := slices.Max(r.logW[:])
	var sum, x, y [2]float64
	for i, l := range r.logW {
		w := math.Exp(l - top)
		p, at := cell(i)
		s, c := math.Sincos(at)
		sum[p] += w
		x[p] += w * c
		y[p] += w * s
	}
	p := 0
	if sum[1] > sum[0] {
		p = 1
	}
	length := math.Hypot(x[p], y[p]) / sum[p]
	m.Mirrored, m.Rotation = sum[1]/(sum[0]+sum[1]), math.Atan2(y[p], x[p])
	m.RotationSD = math.Sqrt(-2 * math.Log(math.Min(length, 1-1e-6)))
	for k := range m.PerTurn {
		m.PerTurn[k], m.PerTurnSD[k] = r.PerTurn(k), r.sd[k]
	}
	return m
}

// Recall begins with what an earlier night taught, with widened sigma: the camera may have
// been turned since, the hand may be another.
func (r *KnobModel) Recall(m KnobMemory) {
	const (
		turned  = 0.3  // chance that the camera sits otherwise now
		loosely = 0.15 // radians, if it does not
	)
	sd := math.Hypot(m.RotationSD, loosely)
	likelier := 0
	if m.Mirrored > 0.5 {
		likelier = 1
	}
	for i := range r.logW {
		p, at := cell(i)
		odds := math.Min(math.Max(m.Mirrored, 0.02), 0.98)
		if p == 0 {
			odds = 1 - odds
		}
		w := 1.0 / bins
		if p == likelier {
			x := wrap(at-m.Rotation) / sd
			w = turned/bins + (1-turned)*math.Exp(-0.5*x*x)*2*math.Pi/bins/(sd*math.Sqrt(2*math.Pi))
		}
		r.logW[i] = math.Log(odds * w)
	}
	for k := range r.gain {
		if m.PerTurn[k] > 0 {
			r.gain[k], r.sd[k] = math.Log(m.PerTurn[k]), math.Hypot(m.PerTurnSD[k], 0.15)
		}
	}
}
