package telescope

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
)

// Both ways of drawing a ring agree on where the shadow stands against the ring
// within 2 % of what coma and silhouette make of it, or 0.1 px, which is what the
// fringes do to an outline of so small a shadow.
func TestQuickFramesLeanAsExactOnes(t *testing.T) {
	cases := []struct {
		d, f, h, z, xsec float64
	}{
		{200, 1000, 1, 5, 0}, {200, 1000, 3, 5, 0}, {200, 1000, 1, -5, 2}, {200, 1000, 2, 3, 0},
		{114, 900, 4, -9, 1}, {254, 1016, 2, 4, 2}, {150, 750, 0.3, 3.4, 0},
	}
	for _, c := range cases {
		t.Run(fmt.Sprint(c), func(t *testing.T) {
			n := still()
			n.Telescope = optics.Telescope{Aperture: c.d, FocalLength: c.f, Secondary: c.d / 4}
			n.Spider = Spider{}
			n.Axis, n.Star, n.Z = r2.Vec{X: -c.h, Y: 0.1}, r2.Vec{Y: 0.1}, c.z
			// The tilt's own walk of the silhouette is taken out, xsec put in.
			n.XSec = r2.Scale(-1, n.Telescope.Silhouette(r2.Vec{Y: -c.xsec}, n.Axis, n.Star))
			tel := New(n)
			tr := tel.Truth()
			r := &renderer{band: band(5)}
			p := tel.pupil(tr)
			if !r.quick.fits(&p) {
				t.Fatal("not a case for the quick way")
			}
			r.drawQuick(tel, &p, tr)
			quick, quickRing := lean(t, &r.patch, n, tr)
			r.drawExact(tel, &p, tr)
			exact, exactRing := lean(t, &r.patch, n, tr)
			want := n.Telescope.Offset(tr.Star, tr.Axis, tr.Silhouette, tr.Z)
			size := r2.Norm(want) / n.Camera.Pixel
			t.Logf("offset %.3f px by design, quick %.3f, exact %.3f; ring %.3f, %.3f", size, quick, exact, quickRing, exactRing)
			if d := r2.Norm(r2.Sub(quick, exact)); d > math.Max(0.02*size, 0.1) {
				t.Errorf("quick %v and exact %v differ by %.3f px of %.2f", quick, exact, d, size)
			}
			near(t, "ring radius", quickRing, exactRing, 0.01*exactRing)
		})
	}
}

// lean measures a patch: outlines at half the brightness along each radius, a
// circle through each; it returns shadow minus ring centre and the ring's radius, px.
func lean(t *testing.T, p *patch, n Night, tr Truth) (offset r2.Vec, ring float64) {
	t.Helper()
	at := func(x, y float64) float64 {
		x, y = x-float64(p.x0), y-float64(p.y0)
		i, j := int(x), int(y)
		if i < 0 || j < 0 || i >= p.w-1 || j >= p.h-1 {
			return 0
		}
		fx, fy := x-float64(i), y-float64(j)
		v := func(i, j int) float64 { return float64(p.e[j*p.w+i]) }
		return (1-fy)*((1-fx)*v(i, j)+fx*v(i+1, j)) + fy*((1-fx)*v(i, j+1)+fx*v(i+1, j+1))
	}
	c := n.Camera
	cx, cy := tr.Star.X/c.Pixel+float64(c.Width-1)/2, tr.Star.Y/c.Pixel+float64(c.Height-1)/2
	radius := n.RadiusPX(tr.Z)
	var in, out []r2.Vec
	for k := range 720 {
		u := polar(1, float64(k)*math.Pi/360)
		along := func(r float64) float64 { return at(cx+r*u.X, cy+r*u.Y) }
		mean, count := 0.0, 0.0
		for r := 0.45 * radius; r < 0.75*radius; r++ {
			mean, count = mean+along(r), count+1
		}
		level := 0.5 * mean / count
		cross := func(from, step float64) r2.Vec {
			r := from
			for along(r+step) > level && math.Abs(r-from) < radius {
				r += step
			}
			a, b := along(r), along(r+step)
			return r2.Scale(r+step*(a-level)/(a-b), u)
		}
		in, out = append(in, cross(0.6*radius, -0.25)), append(out, cross(0.6*radius, 0.25))
	}
	a, _ := circle(in)
	b, r := circle(out)
	return r2.Sub(a, b), r
}

// circle fits by Kasa's method, which is sound on a full circle.
func circle(points []r2.Vec) (centre r2.Vec, radius float64) {
	var m r2.Vec
	for _, p := range points {
		m = r2.Add(m, r2.Scale(1/float64(len(points)), p))
	}
	var xx, xy, yy, xz, yz, zz float64
	for _, p := range points {
		x, y := p.X-m.X, p.Y-m.Y
		z := x*x + y*y
		xx, xy, yy, xz, yz, zz = xx+x*x, xy+x*y, yy+y*y, xz+x*z, yz+y*z, zz+z
	}
	det := 2 * (xx*yy - xy*xy)
	c := r2.Vec{X: (xz*yy - yz*xy) / det, Y: (yz*xx - xz*xy) / det}
	return r2.Add(m, c), math.Sqrt(r2.Norm2(c) + zz/float64(len(points)))
}
