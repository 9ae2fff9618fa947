package night

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/hands"
)

// Where nothing tracks, the star crosses the frame while everything is asked, done
// and looked at. So it is brought not to the middle but up-drift of it, and asked
// for again before it is cut off.
const (
	pushWords  = 3.0  // seconds that it takes to ask for a push
	pushTakes  = 2.0  // and to make one
	rackTakes  = 5.0  // to ask for a racking and to make it
	longCross  = 90.0 // a star that needs longer than this from edge to edge may be brought to the middle
	halfVisit  = 20.0 // the star should reach the middle so long after a push, half way through what is done then
	pushMisses = 0.15 // of the frame's height: how far a push may end from where it should
)

// crossing returns the drift's speed, mm/s, its direction, and how long the star
// takes through the whole frame, seconds.
func (c *Coach) crossing() (speed float64, u r2.Vec, seconds float64) {
	k := c.track
	speed = r2.Norm(k.Drift)
	// A line through n places of unrest jit over a time T is wrong by jit sqrt(12/n)/T.
	sd := k.Jitter * math.Sqrt(12/(c.s.FPS*k.Known)) / k.Known
	if k.Known < 0.8 || speed < 3*sd {
		return 0, r2.Vec{}, math.Inf(1)
	}
	u = r2.Scale(1/speed, c.track.Drift)
	b := c.box()
	return speed, u, 2 * b.room(b.centre, u) / speed
}

// visit is how long the star must stay for something to be asked of the hands and
// begun, with time left to ask for a push.
func (c *Coach) visit() float64 {
	return pushWords + math.Min(c.usual(byKnob), 12) + c.pushAhead()
}

// goal is where the star should be brought, mm.
func (c *Coach) goal() r2.Vec {
	if c.hand.Kind == hands.Pushing {
		if at := c.hand.cue.Goal; at != nil {
			return c.fromPixels(*at)
		}
		return c.box().centre
	}
	return c.upDrift()
}

// upDrift is where a star should be brought that nothing moves but the drift.
func (c *Coach) upDrift() r2.Vec {
	b := c.box()
	speed, u, whole := c.crossing()
	if whole > longCross {
		return b.centre
	}
	up := r2.Scale(-1, u)
	far := math.Min(b.room(b.centre, up)-c.pushMiss(), halfVisit*speed)
	return r2.Add(b.centre, r2.Scale(math.Max(far, 0), up))
}

// pushMiss is how far from its goal a push may end, mm.
func (c *Coach) pushMiss() float64 { return pushMisses * float64(c.height) * c.o.Pixel }

// roomFor is where the star should be brought to have room for a turn that will
// take it along u: no nearer to the edge than a push can be trusted.
func (c *Coach) roomFor(u r2.Vec, travel float64) r2.Vec {
	b, at := c.box(), c.upDrift()
	short := travel - b.room(at, u)
	if at == b.centre || short <= 0 {
		return at
	}
	at = r2.Sub(at, r2.Scale(short, u))
	in := func(x, middle, half float64) float64 {
		half = math.Max(half-c.pushMiss(), 0)
		return math.Min(math.Max(x, middle-half), middle+half)
	}
	return r2.Vec{X: in(at.X, b.centre.X, b.half.X), Y: in(at.Y, b.centre.Y, b.half.Y)}
}

// stays reports whether the star will still be in a box after so many seconds, or
// as long as the drift lets any star be in it.
func (c *Coach) stays(b frameBox, seconds float64) bool {
	speed, u, whole := c.crossing()
	if speed == 0 {
		return b.holds(c.star)
	}
	seconds = math.Min(seconds, 0.6*whole)
	return b.holds(c.star) && b.holds(r2.Add(c.star, r2.Scale(speed*seconds, u)))
}

// pushAhead is how long before the star is cut off a push must be asked for.
func (c *Coach) pushAhead() float64 { return pushWords + pushTakes + math.Min(c.usual(byPush), 12) }

// rackAhead is how long the star must stay for the other side of focus to be
// reached and looked at.
func (c *Coach) rackAhead() float64 {
	const look = 4 // seconds: the fewest frames that tell something
	return rackTakes + math.Min(c.usual(byFocus), 12) + look
}

// frameBox is where the star may be: half the frame's width and height less what
// the ring needs, mm, about the frame's centre.
type frameBox struct {
	centre r2.Vec // of the frame, relative to the target
	half   r2.Vec
}

func (b frameBox) holds(s r2.Vec) bool {
	d := r2.Sub(s, b.centre)
	return math.Abs(d.X) <= b.half.X && math.Abs(d.Y) <= b.half.Y
}

// room returns how far the star may go from s along the unit vector u.
func (b frameBox) room(s, u r2.Vec) float64 {
	d := r2.Sub(s, b.centre)
	axis := func(at, half, u float64) float64 {
		switch {
		case u > 1e-9:
			return (half - at) / u
		case u < -1e-9:
			return (half + at) / -u
		}
		return math.Inf(1)
	}
	return math.Max(0, math.Min(axis(d.X, b.half.X, u.X), axis(d.Y, b.half.Y, u.Y)))
}

// box is where the star should stay.
func (c *Coach) box() frameBox { return c.inset(0.95) }

// inset is the frame without so many ring radii at its edges.
func (c *Coach) inset(rings float64) frameBox {
	px := c.o.Pixel
	in := rings*c.radius + 4*px
	half := r2.Vec{X: float64(c.width)/2*px - in, Y: float64(c.height)/2*px - in}
	half.X, half.Y = math.Max(half.X, 0.05), math.Max(half.Y, 0.05)
	return frameBox{centre: c.frame, half: half}
}

// largest is the largest ring, mm, that leaves the star room to move.
func (c *Coach) largest() float64 { return 0.36 * float64(c.height) * c.o.Pixel }

// fromPixels turns a place on the frame into mm relative to the target.
func (c *Coach) fromPixels(p r2.Vec) r2.Vec {
	return r2.Add(c.frame, r2.Scale(c.o.Pixel, r2.Sub(p, c.middle)))
}

// toPixels is the other way round.
func (c *Coach) toPixels(s r2.Vec) r2.Vec {
	return r2.Add(c.middle, r2.Scale(1/c.o.Pixel, r2.Sub(s, c.frame)))
}
