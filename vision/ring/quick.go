package ring

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/frame"
)

// QuickAberrations is MeasureAberrations by outlines alone, for a frame that Track has
// just measured as r: a hundred times faster, and in one frame some five times less
// exact. It uses the shape of the outer edge, and the size of the shadow, which spherical
// aberration changes the other way. An error in the size of the secondary looks like
// Spherical, but does not change its sign through focus. It finds no vanes. ok is false
// where the ring is not whole.
func (m *Meter) QuickAberrations(f *frame.Frame, r Measurement) (g Figure, ok bool) {
	if !r.Found || slices.Contains(r.Flags, PartOff) || slices.Contains(r.Flags, SomeClipped) {
		return g, false
	}
	var o outline
	edge := r.Ring
	t := m.trace
	if !t.outer(f, &m.track.sky, &edge, r.Shadow, clipLevel(f.Pix, f.White), &o) || o.outerSeen < 0.5 {
		return g, false
	}
	// d = A.X cos 2 phi + A.Y sin 2 phi by weighted least squares.
	var cc, cs, ss, dc, ds float64
	for i, w := range t.fit.W {
		x, y := t.fit.X[i]-edge.X, t.fit.Y[i]-edge.Y
		d := math.Hypot(x, y)
		c, s := (x*x-y*y)/(d*d), 2*x*y/(d*d)
		d -= edge.Radius
		cc, cs, ss, dc, ds = cc+w*c*c, cs+w*c*s, ss+w*s*s, dc+w*d*c, ds+w*d*s
	}
	det := cc*ss - cs*cs
	if !(det > 1) {
		return g, false
	}
	g.Astigmatism = r2.Vec{X: (ss*dc - cs*ds) / det, Y: (cc*ds - cs*dc) / det}
	one := o.outerSpread * math.Sqrt(rayShare*2/float64(len(t.fit.W)))
	g.AstigmatismSigma = r2.Vec{X: one, Y: one}
	// The shadow's edge, zone eps, is moved by Spherical (eps^3 - eps).
	e := m.eps
	g.Spherical = (e*r.Ring.Radius - r.Shadow.Radius) / (e - e*e*e)
	g.SphericalSigma = one / (e - e*e*e)
	g.Fresnel = m.fresnelPerPx() * r.Ring.Radius
	return g, true
}
