package ring

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/frame"
)

// track is what Track remembers from frame to frame.
type track struct {
	on            bool // the last frame had a ring
	width, height int
	ring, hole    Circle
	ratio         float64 // radius of the hole over the ring's, the mean of the last frames
	seen          int     // frames in a row with a ring
	light         float64
	sky           plane3
	coarse        int // the side of squares that a faint ring was found in, px; 0 where it needed none
}

// Track measures a frame that follows another from its outlines, corrected by those of
// the model. It is fast, and in bad air as accurate as Measure. It starts from where the
// ring was, and searches the whole frame when it is no longer there.
func (m *Meter) Track(f *frame.Frame) Measurement {
	if t := &m.track; t.on && f.Width == t.width && f.Height == t.height {
		if o, ok := m.follow(f); ok {
			return m.fromOutline(f, t.sky, o)
		}
	}
	s, o, why := m.find(f)
	if why != "" {
		m.track.on = false
		return s.nothing(why)
	}
	return m.fromOutline(f, s.sky, o)
}

// follow outlines the ring near where it was.
func (m *Meter) follow(f *frame.Frame) (o outline, ok bool) {
	t, c := &m.track, &m.region
	ring, hole := t.ring, t.hole
	for range 2 {
		hole.Radius = t.ratio * ring.Radius // a mean, so that the air in one frame does not spoil the next
		if !c.cut(f, ring, t.sky, t.coarse) {
			return o, false
		}
		clip := clipLevel(c.Pix, c.White)
		c.relevel(c.fromFrame(ring))
		o, ok = m.trace.refine(&c.Frame, &c.sky, c.fromFrame(ring), c.fromFrame(hole), 2, clip)
		if !ok || !o.hole {
			return o, false
		}
		o.scale(c)
		moved := math.Hypot(o.outer.X-ring.X, o.outer.Y-ring.Y) / ring.Radius
		ring, hole = o.outer, o.inner
		if moved < 0.1 {
			return o, t.same(&o)
		}
	}
	return o, false
}

// ratioFrames is the number of frames over which the shadow's size is averaged: a second
// of a slow camera, so that it follows a focuser that is turned (judgement).
const ratioFrames = 10

// same reports whether an outline that was found from the last one is the same ring.
func (t *track) same(o *outline) bool {
	return o.outer.Radius > 0.85*t.ring.Radius && o.outer.Radius < 1.18*t.ring.Radius &&
		o.light > 0.4*t.light && o.outerSeen+o.offFrame > 0.6 && o.outerSeen > 0.35 && o.innerSeen > 0.5 &&
		o.outerSpread < 0.08*o.outer.Radius && o.innerSpread < raggedHole*o.inner.Radius
}

// fromOutline turns outlines into a measurement and remembers them.
func (m *Meter) fromOutline(f *frame.Frame, sky plane3, o outline) Measurement {
	t := &m.track
	if !t.on {
		t.seen = 0
	}
	t.seen++
	t.ratio += (o.inner.Radius/o.outer.Radius - t.ratio) / float64(min(t.seen, ratioFrames))
	t.on, t.width, t.height = true, f.Width, f.Height
	t.ring, t.hole, t.light, t.sky, t.coarse = o.outer, o.inner, o.light, sky, o.coarse
	m.correct(&o)
	return m.corrected(f, o)
}

// corrected turns corrected outlines into a measurement.
func (m *Meter) corrected(f *frame.Frame, o outline) Measurement {
	out := Measurement{Found: true, Ring: o.outer, Shadow: o.inner}
	out.Offset = r2.Vec{X: o.inner.X - o.outer.X, Y: o.inner.Y - o.outer.Y}
	sd := m.outlineSigma(&o, out.Offset)
	out.Sigma = r2.Vec{X: sd, Y: sd}
	light := math.Hypot(o.outerLight, o.innerLight)
	out.NoiseSigma = r2.Vec{X: light, Y: light}
	out.Star, out.Seen = r2.Vec{X: out.Ring.X, Y: out.Ring.Y}, true
	if vague(out) {
		m.track.on = false
		return Measurement{Why: Faint, Star: out.Star, Seen: true}
	}
	out.Clipped = o.clipped
	out.Level = level(f, o.light)
	out.Softness = o.softness
	out.Obstruction, out.ObstructionSigma = min(max(o.inner.Radius/o.outer.Radius, 0), 1), m.obstructionSigma(&o)
	out.PixelMM = m.pixel
	out.Flags = m.flags(&o, 0)
	return out
}

// obstructionSigma returns the one-sigma of the secondary over the aperture as
// corrected outlines have it.
func (m *Meter) obstructionSigma(o *outline) float64 {
	r := o.outer.Radius
	return math.Hypot(o.innerNoise/r, zoneShare*m.inside(r))
}

// flags returns the remarks on an outline, and on a pixel size that fringes show to sigma,
// 0 where they do not: OneSide always, and the others in a fixed order. Sets of flags are
// kept and returned again, so that a frame allocates nothing; they are never changed.
func (m *Meter) flags(o *outline, sigma float64) []Flag {
	raised := [...]struct {
		flag Flag
		on   bool
	}{
		{OneSide, true},
		{SomeClipped, o.clipped > someBurnt},
		{PartOff, o.offFrame > 0.02},
		{SmallRing, m.fresnelPerPx()*o.outer.Radius < smallFresnel},
		{PixelGuessed, m.cfg.PixelMM <= 0 && !(sigma > 0 && sigma < SurePixel)},
		{PixelWrong, m.cfg.PixelMM > 0 && m.pixel != m.cfg.PixelMM},
	}
	key := 0
	for i, r := range raised {
		if r.on {
			key |= 1 << i
		}
	}
	if m.flagSets[key] == nil {
		for _, r := range raised {
			if r.on {
				m.flagSets[key] = append(m.flagSets[key], r.flag)
			}
		}
	}
	return slices.Clip(m.flagSets[key])
}

// smallFresnel is the Fresnel number of the aperture below which a ring is small: there
// is hardly a fringe between its edges (judgement).
const smallFresnel = 12

// SurePixel is the relative one-sigma below which the pixel by the fringes is better than
// an assumed one (judgement: common pixels differ by more).
const SurePixel = 0.2
