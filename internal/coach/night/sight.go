package night

import (
	"cmp"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/estimate"
	"halocue/internal/hands"
	"halocue/internal/observe"
)

// usable reports whether a measurement is made of numbers that can be used.
func usable(s observe.Sight) bool {
	sum := s.Star.X + s.Star.Y + s.Offset.X + s.Offset.Y + s.Sigma.X + s.Sigma.Y + s.Radius
	return !math.IsNaN(sum) && !math.IsInf(sum, 0) && s.Radius > 0 && s.Width > 0 && s.Height > 0
}

// look turns pixels into mm and updates track and estimate.
func (c *Coach) look(s observe.Sight) {
	if s.Found && !usable(s) {
		s.Found, s.Why = false, "no-ring"
	}
	if s.Facts != nil {
		c.learn(*s.Facts)
	}
	c.visible, c.why = s.Found, s.Why
	c.width, c.height = s.Width, s.Height
	c.middle = r2.Vec{X: float64(s.Width-1) / 2, Y: float64(s.Height-1) / 2}
	target := c.middle
	if c.s.Target != nil {
		target = *c.s.Target
	}
	px := c.o.Pixel
	c.frame = r2.Scale(px, r2.Sub(c.middle, target))
	if !s.Found {
		c.clouds.unseen(s.Why)
		c.nearMiddle = s.Seen && r2.Norm(r2.Sub(s.Star, c.middle)) < float64(s.Height)/4
		c.bank.Interrupt()
		c.unseen()
		c.watchFocus()
		if c.hand.Kind == hands.Racking && c.hand.Phase != hands.Settled && !c.hand.unseen {
			// Small rings burn out, blur or lose their shadow.
			if c.hand.lost += c.dt; c.hand.lost > vanished && c.hand.Phase == hands.Waiting {
				c.began()
				c.hand.Enter(hands.Moving, c.t)
			}
		}
		return
	}
	c.lastFound, c.noShadow, c.warned = c.t, 0, 0
	star := r2.Scale(px, r2.Sub(s.Star, target))
	c.star = star
	c.radius = s.Radius * px
	c.radii = append(c.radii, hands.Point{T: c.t, At: r2.Vec{X: c.radius}})
	if len(c.radii) > 8 {
		c.radii = c.radii[1:]
	}
	d := c.track.Add(c.t, star)
	c.feel(d)
	c.feelFor()
	c.watchFocus()
	c.clouds.seen(s, c.dt)
	v, _ := c.track.Velocity()
	c.clouds.stays = c.box().holds(r2.Add(star, v)) // a second on
	if c.measurable() {
		c.bank.Measure(estimate.Reading{Star: star, Radius: c.radius, Offset: r2.Scale(px, s.Offset), Light: r2.Scale(px, s.Sigma)})
		if c.bank.Diverged() {
			c.startled()
		}
	} else {
		c.bank.Interrupt()
	}
	if c.hand.Phase != hands.Moving && !c.driven && !c.track.Moving() {
		c.track.LearnDrift(c.t)
	}
}

// measurable reports whether the offset of this frame means what the model says.
func (c *Coach) measurable() bool {
	if c.driven || c.hand.Kind == hands.Racking && c.hand.Phase == hands.Moving || !c.calm() {
		return false
	}
	v, _ := c.track.Velocity()
	return r2.Norm(v) < 0.5
}

// calm reports whether the ring keeps its size from frame to frame.
func (c *Coach) calm() bool {
	n := len(c.radii)
	return n < 2 || math.Abs(c.radii[n-1].At.X-c.radii[n-2].At.X) < 0.03*c.radius
}

// steady reports whether the ring has kept its size for a while.
func (c *Coach) steady() bool {
	n := 0
	lo, hi := math.Inf(1), 0.0
	for _, p := range c.radii {
		if c.t-p.T < 0.45 {
			n++
			lo, hi = math.Min(lo, p.At.X), math.Max(hi, p.At.X)
		}
	}
	return n >= 4 && hi-lo < 0.03*hi
}

// startled is called when the offsets no longer fit what was believed: something
// moved unseen. The axis point is looked for anew.
func (c *Coach) startled() {
	c.bank.BranchOnFocusSide(0.2) // perhaps this is not the side that it is taken for
	c.bank.Shift(r2.Vec{}, 0.7*c.o.Tolerance)
	c.bank.InflateSilhouette(1)
	c.bank.MirrorMoved()
	c.bank.ResetGate()
}

// cloudDetector tells a star behind a cloud from one that has left the frame.
type cloudDetector struct {
	light  float64 // of the ring, level times area, averaged over some seconds
	dimmed bool    // the star was dimmer, when it was last seen, than it was
	stays  bool    // and was not about to leave the frame
}

// seen takes in a measurement, dt after the one before.
func (v *cloudDetector) seen(s observe.Sight, dt float64) {
	const (
		slow  = 5.0 // seconds
		dimly = 0.6
	)
	light := s.Level * s.Radius * s.Radius
	v.light = cmp.Or(v.light, light)
	v.dimmed = light < dimly*v.light
	v.light += (1 - math.Exp(-dt/slow)) * (light - v.light)
}

// unseen takes in why there is no measurement.
func (v *cloudDetector) unseen(why string) {
	switch why {
	case "faint":
		v.dimmed = true
	case "cut-off":
		v.stays = false
	}
}

// covered reports whether a star that has been gone for so many seconds is behind
// a cloud. As it may also have been taken away by a knock meanwhile, that is not
// believed all the time.
func (c *Coach) covered(gone float64) bool {
	const believed, of = 45, 60 // seconds
	faded := c.why == "dark" || c.why == "faint" || c.why == "no-ring"
	return faded && c.clouds.dimmed && c.clouds.stays && c.bank.Frames() > 0 && math.Mod(gone, of) < believed
}
