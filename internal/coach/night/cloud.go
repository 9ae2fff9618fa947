package night

import (
	"math"

	"halocue/internal/observe"
)

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
	if v.light == 0 {
		v.light = light
	}
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
