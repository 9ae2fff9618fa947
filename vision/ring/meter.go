package ring

import (
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
	"halocue/vision/frame"
)

// Config is what a Meter needs to know about the telescope and the camera.
type Config struct {
	Telescope optics.Telescope
	PixelMM   float64 // side of a pixel, mm; 0 is unknown: optics.UsualPixelMM, flagged, until fringes show it
}

// Meter measures rings. It reuses its memory and belongs to one goroutine.
type Meter struct {
	cfg      Config
	pixel    float64 // mm
	eps      float64
	finder   finder
	trace    *tracer
	region   region
	canvas   map[grid]*canvas
	track    track
	bias     bias
	flagSets [64][]Flag
	inspect  func(*fitter, *params, *mat.SymDense, *mat.SymDense) // sees the finished fit and its covariances
}

// NewMeter returns a Meter for a telescope and a camera.
func NewMeter(c Config) *Meter {
	m := &Meter{cfg: c, pixel: c.PixelMM, eps: c.Telescope.Obstruction(), trace: newTracer(), canvas: map[grid]*canvas{}}
	if m.pixel <= 0 {
		m.pixel = optics.UsualPixelMM
	}
	return m
}

// fresnelPerPx returns N, the Fresnel number of the aperture at 550 nm, per px
// of ring radius: N = R / 2 F lambda.
func (m *Meter) fresnelPerPx() float64 {
	return m.pixel / (2 * m.cfg.Telescope.FocalRatio() * optics.Wavelength)
}

// Measure measures one frame from scratch, as well as it can.
func (m *Meter) Measure(f *frame.Frame) Measurement {
	s, o, why := m.find(f)
	if why != "" {
		return s.nothing(why)
	}
	if o.clipped > wingsOnly {
		// Only the faint wings are left, where the model is weakest, and outlines are more
		// accurate (docs/measurement.md).
		m.bias.known = false
		return m.fromOutline(f, s.sky, o)
	}
	return m.fit(f, s, o)
}

// detection is what the search found.
type detection struct {
	sky   plane3
	noise float64 // RMS of a frame pixel of sky
	clip  float64 // level at which pixels count as burnt out
	star  r2.Vec  // centroid of the most light, px
	seen  bool
}

func (s *detection) nothing(why Why) Measurement {
	return Measurement{Why: why, Star: s.star, Seen: s.seen}
}

// find looks for the ring in the whole frame.
func (m *Meter) find(f *frame.Frame) (s detection, o outline, why Why) {
	list, s, why := m.finder.detect(f)
	if why != "" {
		return s, o, why
	}
	for i, g := range list {
		t, w := m.classify(f, &s, g)
		if w == "" {
			return s, t, ""
		}
		if i == 0 {
			why = w // the reason for the brightest patch is reported
		}
	}
	return s, o, why
}

// classify outlines the light at a guess and returns why it is no ring, or "". A ring that
// is lost in the noise is outlined again on a binned frame.
func (m *Meter) classify(f *frame.Frame, s *detection, g patch) (o outline, why Why) {
	if g.Radius < smallest {
		return o, m.fault(f, s, g, Focused)
	}
	for coarse := 0; ; coarse = 2 * m.region.bin {
		o, why = m.outlineIn(f, s, g.Circle, coarse)
		noisy := s.noise/float64(m.region.bin) > noisyEdge*o.light
		if !noisy || g.Radius < leastPx*2*float64(m.region.bin) {
			break
		}
	}
	if why == "" && o.light < faintest*step(f) {
		why = Faint
	}
	if why == "" && !g.onEdge && g.spread.long() && m.lengthy(f, s, g) == TwoStars {
		return o, TwoStars // and the circle is one of theirs
	}
	if why != "" {
		why = m.fault(f, s, g, why)
	}
	return o, why
}

const (
	noisyEdge = 0.25 // noise over light of a region's pixel, from which edges are lost (judgement)
	leastPx   = 10   // of a region that a ring's radius has at least
)

// outlineIn outlines the light at a guess in squares of coarse pixels at least.
func (m *Meter) outlineIn(f *frame.Frame, s *detection, ring Circle, coarse int) (o outline, why Why) {
	c := &m.region
	if !c.cut(f, ring, s.sky, coarse) {
		return o, NoRing
	}
	guess := c.fromFrame(ring)
	o, ok := m.trace.trace(&c.Frame, &c.sky, guess, s.clip)
	o.coarse = coarse
	if !ok {
		return o, NoRing
	}
	o.scale(c)
	switch {
	case o.offFrame > 0.5:
		return o, CutOff
	case !o.hole && o.clipped > 0.5:
		return o, Clipped
	case !o.hole && o.outerRound() && o.light > 0.5*o.dark: // a disc, lit all over
		return o, NoShadow
	case !o.hole:
		return o, NoRing
	case o.outer.Radius < smallest:
		return o, Focused
	case !o.round():
		return o, NoRing
	}
	return o, ""
}

// fault refines the reason why a patch of light is no ring by the patch's shape.
func (m *Meter) fault(f *frame.Frame, s *detection, g patch, w Why) Why {
	if g.onEdge {
		return CutOff // what is missing is off the frame: no shape to go by
	}
	if w != Faint && w != Clipped && g.spread.long() {
		return m.lengthy(f, s, g)
	}
	return w
}

// burntOut is the fraction of a ring's samples at the clipping level from which its
// brightness cannot be used (judgement).
const burntOut = 0.15

// wingsOnly is the same fraction from which too little is left for a fit (trials in
// docs/measurement.md).
const wingsOnly = 0.85

// faintest is the least light of a ring that is measured, grey steps: with fewer an edge
// has too few steps to be placed (judgement).
const faintest = 6

// step returns the least difference that a frame shows, ADU: files of more than
// 8 bits tell it by their noise, and are taken as fine.
func step(f *frame.Frame) float64 {
	if f.White > 0 && f.White <= 255 {
		return float64(f.White) / 255
	}
	return 0
}

// smallest is the least radius of a ring that is measured, px (judgement).
const smallest = 8

// scale turns an outline in the region's pixels into one in frame pixels.
func (o *outline) scale(c *region) {
	o.outer, o.inner = c.toFrame(o.outer), c.toFrame(o.inner)
	o.outerSpread *= float64(c.bin)
	o.innerSpread *= float64(c.bin)
	o.outerNoise *= float64(c.bin)
	o.innerNoise *= float64(c.bin)
	o.outerLight *= float64(c.bin)
	o.innerLight *= float64(c.bin)
}

// round reports whether both edges are circles, nearly all round.
func (o *outline) round() bool {
	return o.outerRound() && o.innerSpread < raggedHole*o.inner.Radius && o.innerSeen > 0.3
}

func (o *outline) outerRound() bool { return o.outerSpread < 0.12*o.outer.Radius && o.outerSeen > 0.3 }
