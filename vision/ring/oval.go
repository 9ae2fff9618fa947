package ring

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/frame"
)

// Glance is Study by outlines alone, for a frame that Track has just measured as
// r: a hundred times faster and, in one frame, some five times coarser; the shape
// of the outer edge, and the size of the shadow, which spherical aberration moves
// against it. An error in the size of the secondary looks like Sphere, but does
// not change its sign through focus. No vanes. ok is false where the ring is not
// whole.
func (m *Meter) Glance(f *frame.Frame, r Measurement) (g Figure, ok bool) {
	if !r.Found || slices.Contains(r.Flags, PartOff) || slices.Contains(r.Flags, SomeClipped) {
		return g, false
	}
	var o outline
	edge := r.Ring
	t := m.trace
	if !t.outer(f, &m.track.sky, &edge, clipLevel(f), &o) || o.outerSeen < 0.5 {
		return g, false
	}
	// d = Oval.X cos 2 phi + Oval.Y sin 2 phi by weighted least squares.
	var cc, cs, ss, dc, ds float64
	for i, w := range t.fit.w {
		x, y := t.fit.x[i]-edge.X, t.fit.y[i]-edge.Y
		d := math.Hypot(x, y)
		c, s := (x*x-y*y)/(d*d), 2*x*y/(d*d)
		d -= edge.Radius
		cc, cs, ss, dc, ds = cc+w*c*c, cs+w*c*s, ss+w*s*s, dc+w*d*c, ds+w*d*s
	}
	det := cc*ss - cs*cs
	if !(det > 1) {
		return g, false
	}
	g.Oval = r2.Vec{X: (ss*dc - cs*ds) / det, Y: (cc*ds - cs*dc) / det}
	one := o.outerSpread * math.Sqrt(rayShare*2/float64(len(t.fit.w)))
	g.OvalSigma = r2.Vec{X: one, Y: one}
	// The shadow's edge, zone eps, is moved by Sphere (eps^3 - eps).
	e := m.eps
	g.Sphere = (e*r.Ring.Radius - r.Shadow.Radius) / (e - e*e*e)
	g.SphereSigma = one / (e - e*e*e)
	g.Fresnel = m.fresnelPerPx() * r.Ring.Radius
	return g, true
}
