package telescope

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

// An astigmatic mirror makes the ring oval, by the slope of Noll's terms over the
// Fresnel number, drawn either way, and turned by a quarter on the
// other side of focus.
func TestAstigmatismMakesTheRingOval(t *testing.T) {
	for _, side := range []float64{-1, 1} {
		for _, exact := range []bool{false, true} {
			n := still()
			n.Exact, n.Spider, n.Axis, n.Star = exact, Spider{}, r2.Vec{}, r2.Vec{}
			n.XSec, n.Z = r2.Vec{}, 3.4*side
			n.Mirror.Astigmatism = r2.Vec{X: 0.06, Y: -0.09}
			tel := New(n)
			tr := tel.Truth()
			r := &renderer{band: band(5)}
			p := tel.pupil(tr)
			if exact {
				r.drawExact(tel, &p, tr)
			} else {
				r.drawQuick(tel, &p, tr)
			}
			x, y := oval(&r.patch)
			// An evenly lit annulus, its zones moved by (a x + b y, b x - a y), has
			// (Mxx - Myy) / (Mxx + Myy) = 2a and 2 Mxy / (Mxx + Myy) = 2b, to first order.
			waves := -side * 2 * math.Sqrt(6) / (2 * math.Abs(p.defocus))
			near(t, "oval along x", x, 2*waves*0.06, 0.15*math.Abs(2*waves*0.09))
			near(t, "oval askew", y, -2*waves*0.09, 0.15*math.Abs(2*waves*0.09))
		}
	}
}

// oval returns the second moments of the light that tell an oval from a circle.
func oval(p *patch) (x, y float64) {
	var m, mx, my, xx, yy, xy float64
	for j := range p.h {
		for i := range p.w {
			e, u, v := float64(p.e[j*p.w+i]), float64(i), float64(j)
			m, mx, my, xx, yy, xy = m+e, mx+e*u, my+e*v, xx+e*u*u, yy+e*v*v, xy+e*u*v
		}
	}
	mx, my = mx/m, my/m
	xx, yy, xy = xx/m-mx*mx, yy/m-my*my, xy/m-mx*my
	return (xx - yy) / (xx + yy), 2 * xy / (xx + yy)
}
