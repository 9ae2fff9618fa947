package measure

import (
	"fmt"
	"math"

	"halocue/vision/ring"
)

// Words says a line to a person.
func (l Line) Words() string {
	name := l.File
	switch {
	case l.Combined:
		name = fmt.Sprintf("together (%d frames)", l.Frames)
	case l.Pair:
		name = "both sides"
	}
	if !l.Found {
		return fmt.Sprintf("%s: no measurement, %s", name, reasons[l.Why])
	}
	off := l.Offset
	if off == nil {
		off = l.Coma
	}
	s := fmt.Sprintf("%s: the shadow leans %s (give or take %.2f); coma %.3f waves RMS, %.2f of the tolerance; axis point %s of the frame's centre",
		name, way(*off, "px"), math.Hypot(l.Sigma.X, l.Sigma.Y)/math.Sqrt2, *l.Waves, *l.Ratio, way(*l.Axis, "mm"))
	if a := l.Seeing; a != nil {
		s += fmt.Sprintf("; seeing %.1f arc seconds (r0 %.0f mm, give or take %.0f), which %d such frames average down to a tenth of the tolerance", a.FWHM, a.R0, a.Sigma, a.Frames)
	}
	for _, n := range l.Notes {
		s += "; " + n.Text
	}
	return s
}

// way says a vector as a person points.
func way(v XY, unit string) string {
	x, y := "right", "down"
	if v.X < 0 {
		x = "left"
	}
	if v.Y < 0 {
		y = "up"
	}
	return fmt.Sprintf("%.2f %s %s and %.2f %s %s", math.Abs(v.X), unit, x, math.Abs(v.Y), unit, y)
}

// reasons says every code, and what to do next.
var reasons = map[ring.Why]string{
	ring.Dark:      "there is no light in the frame: take the caps off, find the star, or expose longer",
	ring.TooBright: "the frame is flooded with light: expose less, and never point at the Sun",
	ring.NoRing:    "there is light but nothing like a ring: put a bright star in the frame and rack it out of focus",
	ring.Focused:   "the star is too near focus: rack out until it is a ring with a dark middle",
	ring.NoShadow:  "there is a disc without a shadow: rack further out of focus, or expose less",
	ring.CutOff:    "too much of the ring is off the frame: bring the star nearer the middle",
	ring.Clipped:   "the ring is burnt out: expose less",
	ring.Faint:     "the ring is too faint: expose longer, or take a brighter star",
	ring.Blurred:   "the ring is smeared: let the mount settle, and look for dew",
	ring.TwoStars:  "two rings run into each other: take a single star, or less defocus",
}
