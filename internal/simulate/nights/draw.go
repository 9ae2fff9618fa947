package nights

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/optics"
	"halocue/internal/simulate/telescope"
)

// DrawOptions limit what Draw draws. The zero value draws from the whole range.
type DrawOptions struct {
	Width, Height    int     // of the frame; 0 x 0 is 1280 x 960
	Pixel            float64 // mm; 0 is 0.00375
	MinAxis, MaxAxis float64 // distance of the axis point, mm; 0, 0 is 0.5 to 6
	Tracked          bool    // the mount always tracks
	NoLocks          bool
	Skill            *telescope.Skill // nil is telescope.Clumsy
}

// Draw returns a random night: F/4 to F/8, apertures of 114 to 406 mm, seeing of
// 1 to 4 arcsec, the axis point 0.5 to 6 mm off, an offset secondary, tracking or
// drift, a camera at any angle and perhaps mirrored, backlash, locks that shift.
func Draw(seed uint64, o DrawOptions) telescope.Night {
	if o.Width <= 0 || o.Height <= 0 {
		o.Width, o.Height = 1280, 960
	}
	if o.Pixel <= 0 {
		o.Pixel = 0.00375
	}
	if o.MaxAxis <= 0 {
		o.MinAxis, o.MaxAxis = 0.5, 6
	}
	r := rand.New(rand.NewPCG(seed, 0x9e3779b97f4a7c15))
	n := telescope.Night{Seed: seed, Skill: telescope.Clumsy}
	if o.Skill != nil {
		n.Skill = *o.Skill
	}
	n.Telescope = drawTelescope(r)
	n.Cell = drawCell(r, n.Telescope, o.NoLocks)
	n.Spider = telescope.Spider{
		Vanes: pick(r, 3, 4, 4, 4), Angle: uniform(r, 0, math.Pi), Thickness: uniform(r, 0.5, 1.5),
		Clips: pick(r, 0, 3, 3), ClipAngle: uniform(r, 0, math.Pi), ClipSize: uniform(r, 4, 9),
	}
	n.Camera = telescope.Camera{
		Width: o.Width, Height: o.Height, Pixel: o.Pixel,
		Rotation: uniform(r, -math.Pi, math.Pi), Mirrored: r.IntN(2) == 0,
		Exposure: uniform(r, 0.01, 0.04), Bits: pick(r, 8, 8, 16),
		FullWell: logUniform(r, 3000, 15000), Read: uniform(r, 1.5, 6), Hot: r.IntN(12),
	}
	n.Sky.Seeing, n.Sky.Wind, n.Sky.Slow = uniform(r, 1, 4), uniform(r, 3, 12), uniform(r, 0.05, 0.3)
	n.Mount = drawMount(r, n.Telescope, o.Tracked)
	n.Axis = polar(uniform(r, o.MinAxis, o.MaxAxis), uniform(r, -math.Pi, math.Pi))
	drawPointing(r, &n)
	return n
}

func drawTelescope(r *rand.Rand) optics.Telescope {
	d := pick(r, 114.0, 130, 150, 200, 254, 305, 356, 406)
	f := uniform(r, 4, 8)
	eps := uniform(r, 0.2, 0.28)
	if f < 5 {
		eps = uniform(r, 0.23, 0.33)
	}
	return optics.Telescope{
		Aperture: d, FocalLength: math.Round(d*f/5) * 5, Secondary: math.Round(d * eps),
	}
}

// layouts are the usual places of three knobs, by the clock.
var layouts = [][]cue.Knob{
	{{Name: "upper", Clock: 12}, {Name: "right-hand", Clock: 4}, {Name: "left-hand", Clock: 8}},
	{{Name: "right-hand", Clock: 2}, {Name: "bottom", Clock: 6}, {Name: "left-hand", Clock: 10}},
	{{Name: "upper", Clock: 1}, {Name: "lower", Clock: 5}, {Name: "left-hand", Clock: 9}},
	{{Name: "right-hand", Clock: 3}, {Name: "lower", Clock: 7}, {Name: "upper", Clock: 11}},
}

func drawCell(r *rand.Rand, t optics.Telescope, noLocks bool) telescope.Cell {
	c := telescope.Cell{
		Kind:       pick(r, telescope.Spring, telescope.Spring, telescope.PushPull, telescope.Screws),
		Knobs:      pick(r, layouts...),
		Pitch:      pick(r, 0.7, 0.8, 1.0, 1.25, 0.79375, 1.05833, 1.27),
		BoltRadius: t.Aperture * uniform(r, 0.33, 0.45),
		Backlash:   uniform(r, 0, 0.05),
		Reverse:    r.IntN(8) == 0,
		Locks:      r.IntN(2) == 0 && !noLocks,
		LockShift:  t.Tolerance() * uniform(r, 0.05, 0.4),
	}
	if c.Kind == telescope.Spring && r.IntN(2) == 0 {
		c.Locks = false // springs hold well enough without
	}
	return c
}

func drawMount(r *rand.Rand, t optics.Telescope, tracked bool) telescope.Mount {
	f := t.FocalLength
	m := telescope.Mount{
		Shake: f * arcsec * logUniform(r, 0.1, 2), ShakeHz: uniform(r, 1.5, 6),
		Touch: f * arcsec * logUniform(r, 0.3, 4), Kick: 0.3,
	}
	rate := uniform(r, 0, 0.2) // arcsec per second
	if !tracked {
		switch r.IntN(4) {
		case 0: // by the pole
			rate = uniform(r, 0.19, 1)
		case 1: // anywhere: cos(dec) of the sidereal rate
			rate = 15.04107 * math.Cos(uniform(r, 30, 88)*math.Pi/180)
		}
	}
	m.Drift = polar(f*arcsec*rate, uniform(r, -math.Pi, math.Pi))
	if r.IntN(5) == 0 {
		m.KickEvery = 90
	}
	return m
}

// Untrack lets the star of a night drift as it does at the celestial equator
// without tracking, 15.04 arcsec a second, the way it drifts already.
func Untrack(n *telescope.Night) {
	n.Mount.Drift = r2.Scale(n.Telescope.FocalLength*siderealRate, r2.Unit(n.Mount.Drift))
}

// drawPointing chooses the defocus, the star's place, its light and the secondary.
func drawPointing(r *rand.Rand, n *telescope.Night) {
	t, c := n.Telescope, n.Camera
	n.XSec = r2.Scale(0.004*t.Aperture, r2.Vec{X: r.NormFloat64(), Y: r.NormFloat64()})
	if t.FocalRatio() < 6 && r.IntN(3) > 0 { // a secondary that is offset to light the field evenly: by its minor axis / 4F
		n.XSec = r2.Add(n.XSec, polar(t.Secondary/(4*t.FocalRatio()), uniform(r, -math.Pi, math.Pi)))
	}
	h := float64(c.Height)
	radius := uniform(r, 0.05, 0.15) * h
	z := t.Defocus(radius * c.Pixel)
	// No caustic inside the ring (see optics.Telescope.Offset), and a visible shadow.
	z = math.Max(z, 1.3*0.75*r2.Norm(n.Axis)/t.FocalRatio())
	z = math.Max(z, math.Min(0.5*t.BestDefocus(), t.Defocus(0.2*h*c.Pixel)))
	n.Z = z * pick(r, -1.0, 1)
	room := c.Pixel * (h/2 - n.RadiusPX(z))
	n.Star = polar(uniform(r, 0, 0.8)*room, uniform(r, -math.Pi, math.Pi))
	level := uniform(r, 0.12, 0.75)
	n.Sky.Flux = 1
	n.Sky.Flux = level / n.Level(n.Z)
	n.Sky.Back = n.Camera.FullWell * logUniform(r, 0.002, 0.04)
}

const (
	arcsec       = math.Pi / (180 * 3600)
	siderealRate = 7.2921159e-5 // of the sky, radians per second: 15.04107 arcsec
)

func uniform(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

func logUniform(r *rand.Rand, lo, hi float64) float64 {
	return math.Exp(uniform(r, math.Log(lo), math.Log(hi)))
}

func pick[T any](r *rand.Rand, of ...T) T { return of[r.IntN(len(of))] }

func polar(length, angle float64) r2.Vec { return r2.Rotate(r2.Vec{X: length}, angle, r2.Vec{}) }
