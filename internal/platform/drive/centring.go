package drive

import (
	"cmp"
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/observe"
)

const (
	// Judgement; tried on 150 simulated nights (docs/drive.md, "Figures").
	firstProbe  = 0.5  // s, the first nudge of an axis of which nothing is known
	longProbe   = 2.0  // s, the longest
	probes      = 8    // of one axis: play in the gears may swallow some
	legs        = 40   // nudges for one task
	centred     = 0.05 // of the frame's height: near enough to the middle
	leastSine   = 0.25 // of the angle between the axes: else they are one
	runsAway    = 6.0  // px/s of drift with which nothing can be learned
	worthAPulse = 0.05 // s
	waryNudge   = 1.0  // s, the longest after a surprise
	outOfSight  = 1.0  // s during a nudge
	backwards   = 20.0 // px against the way wanted
)

// mountAxes is what is known of a mount: how far and in which direction the star moves
// for each second of nudging an axis, px.
type mountAxes struct {
	motor  Mount
	limits Limits
	per    [2]r2.Vec
	known  [2]bool
	taken  [2]float64 // s, from where it stood
	trust  trust
}

// centring brings the star to the middle.
type centring struct {
	m     *mountAxes
	last  view
	sent  [2]float64 // the nudge since last
	probe float64    // its length, where it was to learn an axis
	tries int        // probes of this axis
	legs  int
	stuck int
	wary  bool // the star has just moved another way than it was sent: a knock, or the axes have changed

	unseen float64 // since when the star has not been seen, s; 0: it is
}

func (c *centring) next(v view) (act, error) {
	if !v.seen {
		return act{}, ErrStarLost
	}
	if r2.Norm(v.drift) > runsAway+5*v.driftSD {
		return act{}, ErrDrifts
	}
	if c.sent != [2]float64{} {
		if err := c.judge(v); err != nil {
			return act{}, err
		}
	}
	c.last = v
	for axis, known := range c.m.known {
		if !known {
			return c.learn(axis)
		}
	}
	off := r2.Sub(r2.Vec{X: float64(v.width-1) / 2, Y: float64(v.height-1) / 2}, v.star)
	if r2.Norm(off) < centred*float64(v.height) {
		return act{done: true}, nil
	}
	return c.toward(off)
}

// learn tries an axis with a short nudge, and a longer one if that did nothing.
func (c *centring) learn(axis int) (act, error) {
	c.tries++
	if c.tries > probes {
		return act{}, ErrNoResponse
	}
	c.probe = cmp.Or(c.probe, math.Min(firstProbe, c.m.limits.Nudge))
	var p [2]float64
	p[axis] = c.probe
	return c.send(p)
}

// toward sends the star by off, px, or a part of that way.
func (c *centring) toward(off r2.Vec) (act, error) {
	a, b := c.m.per[0], c.m.per[1]
	det := r2.Cross(a, b)
	if math.Abs(det) < leastSine*r2.Norm(a)*r2.Norm(b) {
		return act{}, fmt.Errorf("%w: both axes move it along one line", ErrWrongWay)
	}
	p := [2]float64{r2.Cross(off, b) / det, r2.Cross(a, off) / det}
	longest := c.m.limits.Nudge
	if c.wary {
		longest = math.Min(longest, waryNudge)
	}
	if most := math.Max(math.Abs(p[0]), math.Abs(p[1])); most > longest {
		p[0] *= longest / most
		p[1] *= longest / most
	}
	for i := range p {
		if math.Abs(p[i]) < worthAPulse {
			p[i] = 0
		}
	}
	if p == [2]float64{} {
		return act{done: true}, nil
	}
	return c.send(p)
}

func (c *centring) send(p [2]float64) (act, error) {
	if c.legs++; c.legs > legs {
		return act{}, ErrNoResponse
	}
	for i := range p {
		if !(math.Abs(p[i]) <= c.m.limits.Nudge+1e-9 && math.Abs(c.m.taken[i]+p[i]) <= c.m.limits.Reach) {
			return act{}, ErrLimit
		}
	}
	if err := c.m.motor.Nudge(p); err != nil {
		return act{}, err
	}
	for i := range p {
		c.m.taken[i] += p[i]
	}
	c.sent = p
	return act{
		said: fmt.Sprintf("nudge west %.2f s, north %.2f s", p[0], p[1]), busy: c.m.motor.Busy,
		seconds: math.Max(math.Abs(p[0]), math.Abs(p[1])) + 3,
	}, nil
}

// judge compares what the star did with what it was sent to do.
func (c *centring) judge(v view) error {
	d, chance := moved(c.last, v)
	want, sent := c.want(), c.sent
	c.sent = [2]float64{}
	if c.probe != 0 {
		c.felt(sent, d, chance)
		return nil
	}
	size := r2.Norm(want)
	along := r2.Dot(d, want) / (size * size)
	across := r2.Norm(r2.Sub(d, r2.Scale(along, want)))
	if across > 0.5*size+chance || along < -0.2-chance/size || along > 2.5+chance/size {
		if c.wary {
			return ErrWrongWay
		}
		c.wary = true
		return nil
	}
	c.wary = false
	if along < 0.2 {
		if c.stuck++; c.stuck > 3 {
			return ErrNoResponse
		}
		return nil
	}
	c.stuck = 0
	if along > 0.5 && size > 2*chance {
		c.refine(sent, r2.Sub(d, want))
	}
	return nil
}

// felt takes in the effect of a probe. The first movement after none has also taken up
// play in the gears, and is too short: the probe is repeated.
func (c *centring) felt(sent [2]float64, d r2.Vec, chance float64) {
	axis := 0
	if sent[1] != 0 {
		axis = 1
	}
	silent := r2.Norm(d) < math.Max(6, 1.5*chance)
	switch {
	case silent:
		c.stuck++
		c.probe = math.Min(2*c.probe, math.Min(longProbe, c.m.limits.Nudge))
	case c.stuck > 0 && c.probe >= longProbe/2:
		c.stuck = 0
	default:
		c.m.per[axis], c.m.known[axis] = r2.Scale(1/sent[axis], d), true
		c.probe, c.stuck, c.tries = 0, 0, 0
	}
}

// refine is half of Broyden's update of the response (C. G. Broyden, "A class of methods
// for solving nonlinear simultaneous equations", 1965). The whole update is the smallest
// change that explains the difference.
func (c *centring) refine(sent [2]float64, miss r2.Vec) {
	n := sent[0]*sent[0] + sent[1]*sent[1]
	for i := range sent {
		c.m.per[i] = r2.Add(c.m.per[i], r2.Scale(0.5*sent[i]/n, miss))
	}
}

// watch ends a nudge that takes the star out of sight, or clearly backwards.
func (c *centring) watch(l observe.Sight) error {
	if !l.Seen {
		c.unseen = cmp.Or(c.unseen, l.T)
		if l.T-c.unseen > outOfSight {
			return ErrStarLost
		}
		return nil
	}
	c.unseen = 0
	if c.probe != 0 {
		return nil
	}
	want := c.want()
	size := r2.Norm(want)
	if r2.Dot(r2.Sub(l.Star, c.last.star), want) < -backwards*size {
		return ErrWrongWay
	}
	return nil
}

// want is how far the star should go, px, by what was sent.
func (c *centring) want() r2.Vec {
	return r2.Add(r2.Scale(c.sent[0], c.m.per[0]), r2.Scale(c.sent[1], c.m.per[1]))
}

// doubted forgets the axes: the camera may have been turned, or the tube have
// changed sides. That the star is gone, or the light too bright, is not their fault.
func (c *centring) doubted(err error) {
	c.m.trust.doubt()
	if !errors.Is(err, ErrLimit) && !errors.Is(err, ErrBright) {
		c.m.known = [2]bool{}
	}
}
