package telescope

import (
	"math"

	"halocue/internal/observe"

	"gonum.org/v1/gonum/spatial/r2"
)

// Limits of what can be measured, from the ring's geometry alone.
const (
	smallestRing  = 8.0  // px: below it a star counts as focused
	smallestShade = 2.5  // px
	leastInFrame  = 0.55 // of the ring's diameter
	mostClipped   = 0.6
)

// Look returns what a measurement of a frame taken now would give: the true offset, plus
// the coma of the air (correlated in time, Noll 1976) and the noise of the light
// (photonSigma). It draws no pixels, so that thousands of nights can be run.
func (t *Telescope) Look() observe.Sight {
	n := t.night
	tel, pixel := n.Telescope, n.Camera.Pixel
	eps, k := tel.Obstruction(), tel.OffsetPerField()
	tr := t.Truth()
	v := observe.Sight{T: t.t, Width: n.Camera.Width, Height: n.Camera.Height}

	radius := tel.RingRadius(t.z)
	h := r2.Add(r2.Sub(tr.Star, tr.Axis), t.air.leant)
	// The outline of zone 1 stands 3 h / 16 F^2 from the chief ray, less
	// 2/9 of that for the air's coma, a Zernike term, which is balanced with tilt.
	out := k / (1 - eps*eps)
	centre := r2.Add(r2.Add(r2.Add(tr.Star, tr.Sag), t.air.moved), r2.Scale(out, r2.Sub(h, r2.Scale(2.0/9, t.air.leant))))
	c := n.Camera
	v.Star = r2.Vec{X: centre.X/pixel + float64(c.Width-1)/2, Y: centre.Y/pixel + float64(c.Height-1)/2}
	v.Radius, v.Shadow = radius/pixel, eps*radius/pixel
	v.Offset = r2.Scale(1/pixel, tel.Offset(h, r2.Vec{}, tr.Silhouette, t.z))
	v.Level = n.Level(t.z)

	inside := insideOf(v)
	v.Seen = inside > 0
	smear := r2.Norm(t.velocity) * c.Exposure / pixel
	v.Clipped = clipped(v.Level, n.Sky.Back/c.FullWell)
	switch {
	case !v.Seen:
		v.Why = "dark"
	case v.Radius < smallestRing || v.Shadow < smallestShade:
		v.Why = "focused"
	case inside < leastInFrame:
		v.Why = "cut-off"
	case v.Clipped > mostClipped:
		v.Why = "clipped"
	case smear > 0.5*v.Radius:
		v.Why = "blurred"
	case t.signal() < 1:
		v.Why = "faint"
	}
	if v.Found = v.Why == ""; !v.Found {
		v.Offset = r2.Vec{}
		return v
	}
	sigma := t.photonSigma(smear) / math.Sqrt(inside) / inside
	v.Sigma = r2.Vec{X: sigma, Y: sigma}
	v.Offset = r2.Add(v.Offset, gauss2(t.light, sigma))
	v.Star = r2.Add(v.Star, gauss2(t.light, sigma/2))
	if inside < 0.99 {
		v.Flags = append(v.Flags, "edge")
	}
	if v.Clipped > 0.02 {
		v.Flags = append(v.Flags, "clipped")
	}
	return v
}

// insideOf returns how much of the ring's diameter is in the frame, the less of
// the two axes, 0 to 1.
func insideOf(v observe.Sight) float64 {
	part := func(at float64, size int) float64 {
		lo, hi := math.Max(at-v.Radius, -0.5), math.Min(at+v.Radius, float64(size)-0.5)
		return math.Min(math.Max((hi-lo)/math.Max(2*v.Radius, 1), 0), 1)
	}
	return math.Min(part(v.Star.X, v.Width), part(v.Star.Y, v.Height))
}

// clipped returns the burnt-out part of a ring of the given level: its light
// varies by some tens of per cent about the mean (fringes, coma, scintillation).
func clipped(level, back float64) float64 {
	return 0.5 * math.Erfc((1-back-level)/(0.25*level*math.Sqrt2))
}

// signal returns the ring's light per pixel over the noise per pixel.
func (t *Telescope) signal() float64 {
	n := t.night
	s := n.Level(t.z) * n.Camera.FullWell
	return s / math.Sqrt(s+n.Sky.Back+n.Camera.Read*n.Camera.Read)
}

// photonSigma returns the one-sigma of the offset per axis from light alone, px:
// k sqrt(sb R (1-eps^2)(1+1/eps) / N) for N photoelectrons in a ring of radius R whose
// edges are blurred by sb; k is edgeFactor's.
func (t *Telescope) photonSigma(smear float64) float64 {
	n := t.night
	eps, pixel := n.Telescope.Obstruction(), n.Camera.Pixel
	r := n.RadiusPX(t.z)
	// The edge is as soft as air, motion, pixel and the Fresnel zone sqrt(lambda z) make it.
	fresnel := 0.5 * math.Sqrt(math.Abs(t.z)*550e-6) / pixel
	sb := math.Sqrt(sq(n.blur()/pixel) + sq(fresnel) + sq(smear/3) + 0.1)
	light := math.Min(n.Level(t.z), 1) * n.Camera.FullWell
	dark := n.Sky.Back + sq(n.Camera.Read) + sq(quantum(n.Camera))/12
	electrons := light * math.Pi * r * r * (1 - eps*eps)
	return edgeFactor(dark/(light+dark)) * math.Sqrt(sb*r*(1-eps*eps)*(1+1/eps)/electrons)
}

// edgeFactor is k of photonSigma where the dark side of an edge has x of the noise of the
// bright side: 1.05, 1.25, 1.40, 1.90 and 3.22 at 0, 0.05, 0.1, 0.25 and 0.5 (worked out
// before this program; the working is not kept). It fits them within 5 %.
func edgeFactor(x float64) float64 {
	x = math.Min(x, 0.95)
	return 1.05 * (1 + 0.65*math.Sqrt(x)) / (1 - x)
}

// quantum returns the electrons of one step of the digitiser.
func quantum(c Camera) float64 { return c.FullWell / (math.Exp2(float64(c.Bits)) - 1) }

func sq(x float64) float64 { return x * x }
