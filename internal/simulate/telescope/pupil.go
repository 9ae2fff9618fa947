package telescope

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
)

// pupil is the opening for the light, in units of the mirror's radius, in the frame's
// axes, with the errors of the wave, in waves at 550 nm.
type pupil struct {
	eps   float64
	c     r2.Vec       // centre of the silhouette
	vanes []r2.Vec     // unit vectors from the silhouette outward
	half  float64      // half a vane's thickness
	clips [][2]float64 // centres of the clips on the rim
	clip  float64      // a clip's radius

	defocus float64 // W020, waves, > 0 outside focus
	coma    r2.Vec  // W131, waves, pointing away from the axis point
	air     wavefront
	mirror  Mirror
}

// wavefront is an error of the wave over the pupil: at (x, y), |(x, y)| <= 1,
// in waves at 550 nm.
type wavefront func(x, y float64) float64

func (t *Telescope) pupil(tr Truth) pupil {
	n := t.night
	tel, a := n.Telescope, n.Telescope.Aperture/2
	p := pupil{
		eps:     tel.Obstruction(),
		c:       r2.Scale(1/a, tr.Silhouette),
		half:    n.Spider.Thickness / 2 / a,
		clip:    n.Spider.ClipSize / a,
		defocus: tel.DefocusWaves(tr.Z),
		mirror:  n.Mirror,
	}
	p.coma = r2.Scale(tel.Coma(1), r2.Sub(tr.Star, tr.Axis))
	for i := range n.Spider.Vanes {
		angle := n.Spider.Angle + 2*math.Pi*float64(i)/float64(n.Spider.Vanes)
		if i < len(n.Spider.Bent) {
			angle += n.Spider.Bent[i]
		}
		p.vanes = append(p.vanes, polar(1, angle))
	}
	for i := range n.Spider.Clips {
		v := polar(1, n.Spider.ClipAngle+2*math.Pi*float64(i)/float64(n.Spider.Clips))
		p.clips = append(p.clips, [2]float64{v.X, v.Y})
	}
	return p
}

// through returns how much of a cell of side dx about (x, y) lets light pass, 0 to 1.
// Edges are smoothed over one cell, so that their place is right.
func (p *pupil) through(x, y, dx float64) float64 {
	r := math.Hypot(x, y)
	if r > 1+dx {
		return 0
	}
	open := step((1-r)/dx) * step((math.Hypot(x-p.c.X, y-p.c.Y)-p.eps)/dx)
	if open == 0 {
		return 0
	}
	for _, k := range p.clips {
		open *= step((math.Hypot(x-k[0], y-k[1]) - p.clip) / dx)
	}
	for _, v := range p.vanes {
		rx, ry := x-p.c.X, y-p.c.Y
		if rx*v.X+ry*v.Y > 0 {
			d := math.Abs(ry*v.X - rx*v.Y)
			open *= 1 - math.Max(0, step((p.half-d)/dx)+step((p.half+d)/dx)-1)
		}
	}
	return open
}

// step is an edge smoothed over one unit.
func step(d float64) float64 { return math.Min(math.Max(d+0.5, 0), 1) }

// aberration returns the slowly varying error of the wave, defocus left out,
// waves at 550 nm: coma W131 rho^3 cos phi, the mirror's figure and the air.
func (p *pupil) aberration(x, y float64) float64 {
	w := (p.coma.X*x+p.coma.Y*y)*(x*x+y*y) + p.mirror.wave(x, y)
	if p.air != nil {
		w += p.air(x, y)
	}
	return w
}

// band is the light of the camera: equal steps over 450 to 650 nm, as ratios of
// 550 nm to the wavelength.
func band(steps int) []float64 {
	var b []float64
	for i := range steps {
		l := 450e-6 + 200e-6*(float64(i)+0.5)/float64(steps)
		b = append(b, optics.Wavelength/l)
	}
	return b
}
