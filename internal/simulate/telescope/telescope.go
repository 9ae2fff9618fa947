package telescope

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r2"
)

// Telescope is a Newtonian with its mount, camera and sky, at one moment. It is
// not safe for use by several goroutines at once.
type Telescope struct {
	night Night
	t     float64

	screws   [3]screw
	bolts    [3]r2.Vec // where the screws are, mm, in the frame's axes
	axis0    r2.Vec    // axis point with the screws and locks as they began
	pointing r2.Vec    // chief ray of the star, without mirror tilt and shake
	sag      r2.Vec    // by which the image is displaced on the sensor
	z        float64
	velocity r2.Vec // of the star during the last step, mm/s
	last     r2.Vec
	touched  float64 // seconds until a hand on a knob is forgotten

	mountRNG     *rand.Rand
	lockRNG      *rand.Rand
	sagRNG       *rand.Rand
	shake, touch wander
	shaken       r2.Vec

	air   *air
	light *rand.Rand
	view  *renderer
}

// New sets up a telescope at t = 0.
func New(n Night) *Telescope {
	m, l := chance(n.Seed, mountStream), chance(n.Seed, lockStream)
	t := &Telescope{
		night: n, z: n.Z, mountRNG: m, lockRNG: l,
		shake:  newWander(m, 1, n.Mount.ShakeHz),
		touch:  newWander(m, 0.3, 2.5),
		sagRNG: chance(n.Seed, sagStream),
		air:    newAir(n),
		light:  chance(n.Seed, lightStream),
	}
	for i := range t.screws {
		t.screws[i] = newScrew(n.Cell, l)
		if i < len(n.Cell.Knobs) {
			t.bolts[i] = n.Camera.fromBehind(n.Cell.BoltRadius, n.Cell.Knobs[i].Clock)
		}
	}
	t.sag = gauss2(t.sagRNG, n.Sag)
	tilt := t.tilt()
	t.axis0 = r2.Sub(n.Axis, tilt)
	t.pointing = r2.Sub(n.Star, r2.Scale(2, tilt))
	t.last = t.star()
	return t
}

// fromBehind returns the place at a radius and clock position, as seen from
// behind the mirror, in the frame's axes.
func (c Camera) fromBehind(radius, clock float64) r2.Vec {
	s, k := math.Sincos(clock / 12 * 2 * math.Pi)
	x, y := radius*s, -radius*k // the frame's y points down
	if c.Mirrored {
		x = -x
	}
	s, k = math.Sincos(c.Rotation)
	return r2.Vec{X: x*k - y*s, Y: x*s + y*k}
}

// tilt returns how far the mirror's tilt has moved the axis point, mm on the
// sensor: f * tilt, away from a screw that went forward; the star moves twice
// that (the plane through three points a third of a turn apart at b u_i, d_i forward,
// leans by -2/(3b) * sum of d_i u_i).
func (t *Telescope) tilt() r2.Vec {
	n := t.night
	b := n.Cell.BoltRadius
	var sum r2.Vec
	for i := range t.screws {
		d := t.screws[i].mirror * n.Cell.Forward()
		sum = r2.Add(sum, r2.Scale(-2*n.Telescope.FocalLength/(3*b*b)*d, t.bolts[i]))
		sum = r2.Add(sum, t.screws[i].pull())
	}
	return sum
}

func (t *Telescope) axis() r2.Vec { return r2.Add(t.axis0, t.tilt()) }

func (t *Telescope) star() r2.Vec {
	return r2.Add(t.pointing, r2.Add(r2.Scale(2, t.tilt()), t.shaken))
}

// Night returns what the telescope was made of.
func (t *Telescope) Night() Night { return t.night }

// Advance moves sky, wind and air on to the given time, seconds since the start. A time in
// the past changes nothing.
func (t *Telescope) Advance(to float64) {
	dt := to - t.t
	if dt <= 0 {
		return
	}
	t.t = to
	m := t.night.Mount
	t.pointing = r2.Add(t.pointing, r2.Scale(dt, m.Drift))
	t.shaken = r2.Scale(m.Shake, t.shake.step(dt))
	touch := t.touch.step(dt)
	if t.touched > 0 {
		t.shaken = r2.Add(t.shaken, r2.Scale(m.Touch*math.Min(1, t.touched/0.3), touch))
		t.touched -= dt
	}
	if m.KickEvery > 0 && t.mountRNG.Float64() < -math.Expm1(-dt/m.KickEvery) {
		t.pointing = r2.Add(t.pointing, gauss2(t.mountRNG, m.Kick))
	}
	t.air.advance(dt)
	star := t.star()
	t.velocity = r2.Scale(1/dt, r2.Sub(star, t.last))
	t.last = star
}

// Truth returns the true state.
func (t *Telescope) Truth() Truth {
	axis, star := t.axis(), t.star()
	tr := Truth{
		Axis: axis, Star: star, Sag: t.sag, Z: t.z,
		Silhouette: t.night.Telescope.Silhouette(t.night.XSec, axis, star),
	}
	for i := range t.screws {
		tr.Turns = append(tr.Turns, t.screws[i].knob)
		tr.Locks = append(tr.Locks, t.screws[i].lock)
	}
	return tr
}

// Turn turns a knob (0 to 2) by some turns, > 0 tightens (clockwise seen from
// behind). A snug lock holds it, and the turn is lost.
func (t *Telescope) Turn(knob int, turns float64) {
	t.screws[knob].turn(turns, t.night.Cell.Backlash)
	t.touched = 0.6
}

// Lock sets the lock of a knob between loose (0) and snug (1); the mirror is
// moved a little as it closes, each time a little differently. Without locks it
// does nothing.
func (t *Telescope) Lock(knob int, snug float64) {
	if t.night.Cell.Locks {
		t.screws[knob].setLock(snug, t.night.Cell.LockShift, t.lockRNG)
		t.touched = 0.6
	}
}

// Push moves the tube so that the star moves by d, mm on the sensor.
func (t *Telescope) Push(d r2.Vec) { t.pointing = r2.Add(t.pointing, d) }

// Rack moves the focuser by dz, mm, > 0 outward. On its way through focus the drawtube
// sags to another place.
func (t *Telescope) Rack(dz float64) {
	if (t.z > 0) != (t.z+dz > 0) {
		t.sag = gauss2(t.sagRNG, t.night.Sag)
	}
	t.z += dz
}
