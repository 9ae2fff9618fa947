package record

import (
	"image"
	"math"

	"halocue/internal/observe"
	"halocue/vision/frame"
)

// cutter decides what is kept of a frame: once a second the whole frame, and between two of
// these a rectangle about the ring, which stays the same until the next whole frame. So the
// last whole frame with the rectangle laid over it is what the camera saw, with a sky that
// is up to a second old.
type cutter struct {
	at            float64 // when the last whole frame was kept, s
	number        int     // of it; 0: none yet
	width, height int
	box           image.Rectangle // what is kept of the frames after it, px
}

const (
	wholeEvery = 1.0 // s
	// The part reaches wide radii from the ring's middle, and margin px more. When the ring
	// moves or grows until less than tight radii and margin lie in it, a whole frame is due.
	wide, tight, margin = 1.8, 1.3, 24
)

// place returns what is to be kept of frame number at time t, s: the whole frame, a part of
// it, or nothing if no star was seen.
func (c *cutter) place(t float64, number int, f *frame.Frame, s observe.Sight) (box image.Rectangle, whole bool) {
	all := image.Rect(0, 0, f.Width, f.Height)
	about := func(radii float64) image.Rectangle {
		r := radii*s.Radius + margin
		at := func(v float64) int { return int(math.Max(-1, math.Min(v, 1e6))) }
		return image.Rect(at(s.Star.X-r), at(s.Star.Y-r), at(s.Star.X+r)+1, at(s.Star.Y+r)+1).Intersect(all)
	}
	due := c.number == 0 || t >= c.at+wholeEvery || c.width != f.Width || c.height != f.Height
	switch {
	case due || s.Found && !about(tight).In(c.box) || s.Seen && !s.Found:
		*c = cutter{at: t, number: number, width: f.Width, height: f.Height}
		if s.Found {
			c.box = about(wide)
		}
		return all, true
	case s.Found:
		return c.box, false
	}
	return image.Rectangle{}, false
}
