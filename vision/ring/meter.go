package ring

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/frame"
	"halocue/internal/optics"
)

// AssumedPixelMM stands in for an unknown pixel size.
const AssumedPixelMM = 0.00375

// Config is what a Meter needs to know about the telescope and the camera.
type Config struct {
	Telescope optics.Telescope
	PixelMM   float64 // side of a pixel, mm; 0 is unknown: AssumedPixelMM, flagged
}

// Meter measures rings. It reuses its memory and belongs to one goroutine.
type Meter struct {
	cfg           Config
	pixel         float64 // mm
	eps           float64
	thumb         thumb
	smooth        []float64
	mark          []int32
	order         []int32
	trace         *tracer
	canvas        map[[2]int]*canvas
	tracked       bool // the last frame had a ring
	width, height int
	lastRing      Circle
	lastLight     float64
	lastSky       plane3
	look          func(*fitter, *params) // for tests: sees the finished fit
}

// NewMeter returns a Meter for a telescope and a camera.
func NewMeter(c Config) *Meter {
	m := &Meter{cfg: c, pixel: c.PixelMM, eps: c.Telescope.Obstruction(), trace: newTracer(), canvas: map[[2]int]*canvas{}}
	if m.pixel <= 0 {
		m.pixel = AssumedPixelMM
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
	s, o, fail := m.find(f)
	if fail != nil {
		return *fail
	}
	return m.fit(f, s, o)
}

func nothing(why Why) *Measurement { return &Measurement{Why: why} }

// sight is what the search found.
type sight struct {
	sky   plane3
	noise float64 // RMS of a frame pixel of sky
	clip  float64 // level at which pixels count as burnt out
}

// find looks for the ring in the whole frame.
func (m *Meter) find(f *frame.Frame) (s sight, o outline, fail *Measurement) {
	if f.Width < 24 || f.Height < 24 {
		return s, o, nothing(NoRing)
	}
	s.clip = clipLevel(f)
	t := &m.thumb
	t.make(f)
	if burnt := fractionAbove(t.pix, s.clip); burnt > 0.5 {
		return s, o, nothing(TooBright)
	}
	t.level()
	n := t.w * t.h
	if len(m.smooth) < n {
		m.smooth, m.mark, m.order = make([]float64, n), make([]int32, n), make([]int32, n)
	}
	smooth := m.smooth[:n]
	t.smoothed(smooth)
	s.noise = pixelNoise(f)
	x0, y0 := f.Centre()
	s.sky = plane3{x0, y0, t.sky[0], t.sky[1] / float64(t.w*t.bin), t.sky[2] / float64(t.h*t.bin)}
	peak := 0.0
	floor := 6 * t.noise / 3
	var lit []float64
	for _, v := range smooth {
		if v > 3*floor {
			lit = append(lit, v)
		}
	}
	if len(lit) < 12 {
		return s, o, nothing(Dark)
	}
	peak = quantile(lit, 0.8)
	level := max(0.3*peak, floor)
	list := t.blobs(level, smooth, m.mark[:n], m.order)
	if len(list) == 0 {
		return s, o, nothing(Dark)
	}
	b := list[0]
	star := r2.Vec{X: (b.x+0.5)*float64(t.bin) - 0.5, Y: (b.y+0.5)*float64(t.bin) - 0.5}
	// What lies on the frame's edge is not judged by its shape: the rest is off the frame.
	edge := b.x0 <= 0 || b.y0 <= 0 || b.x1 >= t.w-1 || b.y1 >= t.h-1
	miss := func(w Why) *Measurement {
		if edge {
			w = CutOff
		}
		return &Measurement{Why: w, Star: star, Seen: true}
	}
	r := float64(max(b.x1-b.x0, b.y1-b.y0)+1) / 2 * float64(t.bin)
	if r < 8 {
		return s, o, miss(Focused)
	}
	guess := Circle{float64(b.x0+b.x1+1)/2*float64(t.bin) - 0.5, float64(b.y0+b.y1+1)/2*float64(t.bin) - 0.5, r}
	o, ok := m.trace.trace(f, &s.sky, guess, m.eps, s.clip)
	if !ok {
		return s, o, miss(NoRing)
	}
	if !o.hole {
		return s, o, miss(NoShadow)
	}
	if o.outerSpread > 0.12*o.outer.Radius || o.innerSpread > 0.12*o.outer.Radius || o.outerSeen < 0.3 || o.innerSeen < 0.3 {
		return s, o, miss(NoRing)
	}
	return s, o, nil
}

// clipLevel is the level from which a pixel counts as burnt out.
func clipLevel(f *frame.Frame) float64 {
	if f.White > 0 {
		return 0.985 * float64(f.White)
	}
	return math.Inf(1)
}

func fractionAbove(v []float64, level float64) float64 {
	n := 0
	for _, x := range v {
		if x >= level {
			n++
		}
	}
	return float64(n) / float64(max(1, len(v)))
}

func quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return 0
	}
	median(v) // sorts
	return v[min(len(v)-1, int(q*float64(len(v))))]
}

// pixelNoise estimates the RMS of a sky pixel from differences of neighbours.
func pixelNoise(f *frame.Frame) float64 {
	stride := max(1, len(f.Pix)/40000) | 1
	d := make([]float64, 0, 40000)
	for i := 1; i < len(f.Pix); i += stride {
		d = append(d, math.Abs(float64(f.Pix[i]-f.Pix[i-1])))
	}
	// The mean of small absolute differences also works where quantisation
	// makes most of them nought.
	median(d)
	half := d[:len(d)*3/4+1]
	sum := 0.0
	for _, v := range half {
		sum += v
	}
	mean := sum / float64(len(half))
	// For a Gaussian the mean of the lower three quarters of |d| is 0.537 sigma.
	return max(mean/0.537/math.Sqrt2, 0)
}
