// Package exposure sets a camera's exposure time and gain so that the ring is
// neither burnt out nor lost in the noise.
//
// It is slow on purpose: the air makes the ring flicker, every change costs the
// measurement a few frames, and a factor of two in brightness costs it little. So
// nothing is changed within a wide band.
package exposure

import (
	"halocue/vision/frame"
	"halocue/vision/robust"
)

// Setting is what a camera is told.
type Setting struct {
	Seconds float64 // of one exposure
	Gain    float64 // in the driver's own units
}

// Range is what a value may be. Max <= Min: it cannot be set.
type Range struct{ Min, Max float64 }

func (r Range) settable() bool          { return r.Max > r.Min }
func (r Range) clamp(v float64) float64 { return min(max(v, r.Min), r.Max) }

// Limits are those of one camera. The longest exposure should leave the frame
// rate that guiding needs, whatever more the camera could do.
type Limits struct{ Seconds, Gain Range }

// Verdict says how the light stands.
type Verdict string

// The verdicts.
const (
	Watching  Verdict = "watching"   // not enough frames since the last change
	Good      Verdict = "good"       // within the band
	Changed   Verdict = "changed"    // a new setting is asked for
	TooBright Verdict = "too-bright" // nothing is left to take away: a smaller aperture, a fainter star, or danger
	TooFaint  Verdict = "too-faint"  // nothing is left to add: a brighter star
)

// The band, as fractions of the clipping level, and the aim within it. The ring's bright
// speckles are at two to three times its mean (common practice, no source), so with these
// at 0.4 to 0.85 the mean is well above the read noise. The numbers of frames are
// judgement, tested on flickering rings (go test ./vision/camera/exposure).
const (
	low, aim, high = 0.40, 0.60, 0.85
	burnt          = 0.98 // from here the level only says "too much"

	settle = 3 // frames after a change that may still show the old setting
	window = 5 // frames that are judged together
	urgent = 3 // burnt-out frames in a row that are answered at once
	agree  = 2 // windows in a row on the same side that it takes for a change, unless they are far out
	loud   = 2 // so many times beyond the band is far out

	gainSteps = 8 // steps through the gain's range
	maxRise   = 4 // largest factor at once: a dark frame does not show how dark it is
)

// Controller decides. It sees one level per frame and says when to change what.
type Controller struct {
	limits Limits
	now    Setting
	wait   int
	burnt  int // frames in a row
	side   int // windows in a row above (+) or below (-) the band
	levels []float64
}

// New starts from the camera's present setting.
func New(limits Limits, now Setting) *Controller {
	c := &Controller{limits: limits, wait: settle, levels: make([]float64, 0, window)}
	c.now = Setting{Seconds: limits.Seconds.clamp(now.Seconds), Gain: now.Gain}
	if limits.Gain.settable() {
		c.now.Gain = limits.Gain.clamp(now.Gain)
	}
	return c
}

// Setting is the one that is asked for now.
func (c *Controller) Setting() Setting { return c.now }

// Step takes the Level of the next frame. On Changed the camera must be told
// Setting.
func (c *Controller) Step(level float64) Verdict {
	if c.wait > 0 {
		c.wait--
		return Watching
	}
	c.burnt++
	if level < burnt {
		c.burnt = 0
	}
	c.levels = append(c.levels, level)
	if c.burnt < urgent && len(c.levels) < window {
		return Watching
	}
	level = robust.Median(c.levels)
	if c.burnt >= urgent {
		level = 1
	}
	c.levels = c.levels[:0]
	switch {
	case level > high:
		c.side = max(c.side, 0) + 1
	case level < low:
		c.side = min(c.side, 0) - 1
	default:
		c.side = 0
		return Good
	}
	switch sure := level >= burnt || level < low/loud; {
	case c.side >= agree, c.side > 0 && sure:
		return c.less(level)
	case c.side <= -agree, c.side < 0 && sure:
		return c.more(level)
	}
	return Watching
}

// less lowers the gain first, which costs nothing.
func (c *Controller) less(level float64) Verdict {
	factor := aim / level
	if level >= burnt {
		factor = 0.4
	}
	next := c.now
	if g := c.limits.Gain; g.settable() && c.now.Gain > g.Min {
		next.Gain = g.clamp(c.now.Gain - (g.Max-g.Min)/gainSteps)
	} else {
		next.Seconds = c.limits.Seconds.clamp(c.now.Seconds * factor)
	}
	return c.change(next, TooBright)
}

// more lengthens the exposure first: more light is better than more gain.
func (c *Controller) more(level float64) Verdict {
	next := c.now
	next.Seconds = c.limits.Seconds.clamp(c.now.Seconds * min(maxRise, aim/max(level, 1e-6)))
	if g := c.limits.Gain; next.Seconds <= c.now.Seconds && g.settable() {
		next.Gain = g.clamp(c.now.Gain + (g.Max-g.Min)/gainSteps)
	}
	return c.change(next, TooFaint)
}

func (c *Controller) change(next Setting, atLimit Verdict) Verdict {
	if next == c.now {
		return atLimit
	}
	c.now, c.wait, c.burnt, c.side = next, settle, 0, 0
	return Changed
}

// rank is how many of the pixels looked at may be brighter than the level: fewer
// than a small ring has (150 in every other row at a radius of 10), more than
// hot pixels and cosmic rays make.
const rank = 100

// dark is the level below which levels are not distinguished.
const dark = 0.05

// Level is how bright the brightest things in the frame are that are larger than
// hot pixels, as a fraction of the clipping level, 0 to 1, to 1/1024. It is 0
// below 0.05 and where the clipping level is unknown; burnt out is 1.
func Level(f *frame.Frame) float64 {
	if f.White <= 0 {
		return 0
	}
	// A histogram of each pixel's lesser with its right neighbour: a hot pixel,
	// alone, does not count. Most pixels are dark and skipped.
	var count [1024]int
	scale, cut := float32(len(count))/f.White, float32(dark*f.White)
	for y := 0; y < f.Height; y += 2 {
		row := f.Pix[y*f.Width:][:f.Width]
		last := row[0]
		for _, v := range row[1:] {
			if v >= cut && last >= cut {
				count[min(len(count)-1, int(min(v, last)*scale))]++
			}
			last = v
		}
	}
	above := 0
	for i := len(count) - 1; i >= 0; i-- {
		if above += count[i]; above > rank {
			if float64(i) >= 0.985*float64(len(count)) {
				return 1
			}
			return (float64(i) + 0.5) / float64(len(count))
		}
	}
	return 0
}
