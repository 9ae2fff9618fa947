package telescope

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// geometric draws the ring by tracing each pixel back to the pupil. Each zone is moved by
// the slope of the wave, and is brighter where zones come together; edges and vanes have
// the diffraction pattern of straight ones. It is a hundred times faster than diffraction,
// and as accurate while the ring is many Fresnel zones wide and free of caustics.
type geometric struct {
	edge, vane  profile
	fresnel, sd float64 // of the profiles
	basis       [lastTerm + 1][]node
	mesh        []node
	kx, ky      float64 // coma, as a shift in ring radii
	clip2       float64 // squared distance up to which a clip shows
}

// node is what the air does at a place in the ring: shift in ring radii, and how
// much the light is spread there.
type node struct{ x, y, spread float64 }

// meshSize nodes cover the pupil from -meshReach to meshReach.
const (
	meshSize  = 33
	meshReach = 1.35
)

// fits reports whether the geometric picture is accurate: enough Fresnel zones across the
// shadow, and far too little coma for a caustic.
func (g *geometric) fits(p *pupil) bool {
	n := 2 * math.Abs(p.defocus)
	return n*p.eps*p.eps > 1 && 6*math.Hypot(p.coma.X, p.coma.Y) < 0.7*n
}

// draw puts the star's light into the patch. radius is the ring's, px, sd the
// blur of the image, px.
func (g *geometric) draw(pt *patch, p *pupil, a *air, n Night, star r2.Vec, radius, sd float64, band []float64) {
	fresnel := 2 * math.Abs(p.defocus)
	if sd /= radius; fresnel != g.fresnel || math.Abs(sd-g.sd) > 0.02*sd {
		g.edge.fill(fresnel, sd, band, knife)
		g.vane.fill(fresnel, sd, band, strip(p.half, fresnel))
		g.fresnel, g.sd = fresnel, sd
	}
	s := -1 / fresnel // u = q - sign(z) grad W / N
	if p.defocus < 0 {
		s = -s
	}
	g.kx, g.ky = s*p.coma.X, s*p.coma.Y
	g.clip2 = sq(p.clip + 2/math.Sqrt(fresnel))
	g.warp(p.mirror.and(a), s)
	c := n.Camera
	x0 := star.X/c.Pixel + float64(c.Width-1)/2
	y0 := star.Y/c.Pixel + float64(c.Height-1)/2
	bulge := 3 * math.Hypot(p.coma.X, p.coma.Y) / fresnel
	// At Fresnel's v = 6 in the dark 1 part in 700 is left (I = 1 / 2 pi^2 v^2).
	reach := 1 + bulge + 6/math.Sqrt(2*fresnel) + 3*sd
	pt.reset(x0, y0, radius*reach, c)
	gain := n.Sky.Flux / (math.Pi * radius * radius * (1 - p.eps*p.eps))
	turn := 1 / radius
	if p.defocus > 0 {
		turn = -turn
	}
	for j := range pt.h {
		v := (float64(pt.y0+j) - y0) * turn
		row := pt.e[j*pt.w : (j+1)*pt.w]
		for i := range row {
			u := (float64(pt.x0+i) - x0) * turn
			if u*u+v*v < reach*reach {
				row[i] = float32(gain * g.light(p, u, v))
			}
		}
	}
}

// warp calculates the effect of the mirror's figure and the air, on the mesh.
func (g *geometric) warp(waves [lastTerm + 1]float64, s float64) {
	g.mesh = g.mesh[:0]
	if waves == [lastTerm + 1]float64{} {
		return
	}
	if g.basis[2] == nil {
		g.lay()
	}
	g.mesh = append(g.mesh, make([]node, meshSize*meshSize)...)
	for j := 2; j <= lastTerm; j++ {
		f := s * waves[j]
		for i, b := range g.basis[j] {
			m := &g.mesh[i]
			m.x, m.y, m.spread = m.x+f*b.x, m.y+f*b.y, m.spread+f*b.spread
		}
	}
}

// lay works out the slopes and the curvature of each Zernike term on the mesh.
func (g *geometric) lay() {
	const h = 0.01
	for k := 2; k <= lastTerm; k++ {
		for j := range meshSize {
			for i := range meshSize {
				x, y := (2*float64(i)/(meshSize-1)-1)*meshReach, (2*float64(j)/(meshSize-1)-1)*meshReach
				if r := math.Hypot(x, y); r > 1 { // the polynomials grow fast outside
					x, y = x/r, y/r
				}
				a := zernike(k, x, y)
				l, r := zernike(k, x-h, y), zernike(k, x+h, y)
				d, u := zernike(k, x, y-h), zernike(k, x, y+h)
				g.basis[k] = append(g.basis[k], node{(r - l) / (2 * h), (u - d) / (2 * h), (l + r + d + u - 4*a) / (h * h)})
			}
		}
	}
}

// air returns the node at (x, y) by bilinear interpolation.
func (g *geometric) air(x, y float64) node {
	const scale = (meshSize - 1) / (2 * meshReach)
	x, y = (x+meshReach)*scale, (y+meshReach)*scale
	i := min(max(int(x), 0), meshSize-2)
	j := min(max(int(y), 0), meshSize-2)
	fx, fy := min(max(x-float64(i), 0), 1), min(max(y-float64(j), 0), 1)
	a, b := &g.mesh[j*meshSize+i], &g.mesh[j*meshSize+i+1]
	c, d := &g.mesh[(j+1)*meshSize+i], &g.mesh[(j+1)*meshSize+i+1]
	wa, wb, wc, wd := (1-fx)*(1-fy), fx*(1-fy), (1-fx)*fy, fx*fy
	return node{
		wa*a.x + wb*b.x + wc*c.x + wd*d.x,
		wa*a.y + wb*b.y + wc*c.y + wd*d.y,
		wa*a.spread + wb*b.spread + wc*c.spread + wd*d.spread,
	}
}

// light returns the brightness at (u, v), ring radii from the chief ray in the
// pupil's orientation; 1 is the mean of the ring.
func (g *geometric) light(p *pupil, u, v float64) float64 {
	bright := 1.0
	if len(g.mesh) > 0 {
		a := g.air(u, v)
		u, v = u-a.x, v-a.y
		bright = min(max(1-a.spread, 0.2), 3)
	}
	// Newton on q + s grad((k.q) q^2) = u, from one step of plain iteration.
	kx, ky := g.kx, g.ky
	ku, uu := kx*u+ky*v, u*u+v*v
	x, y := u-kx*uu-2*ku*u, v-ky*uu-2*ku*v
	kq, qq := kx*x+ky*y, x*x+y*y
	fx, fy := x+kx*qq+2*kq*x-u, y+ky*qq+2*kq*y-v
	xx, yy, xy := 1+4*kx*x+2*kq, 1+4*ky*y+2*kq, 2*(kx*y+ky*x)
	det := xx*yy - xy*xy
	if det < 0.2 {
		det = 0.2
	}
	over := 1 / det
	x, y = x-(yy*fx-xy*fy)*over, y-(xx*fy-xy*fx)*over
	r := math.Sqrt(x*x + y*y)
	rx, ry := x-p.c.X, y-p.c.Y
	rr := rx*rx + ry*ry
	// Where zones crowd by J across an edge, its fringes widen by 1/sqrt(J) in the
	// pupil: the Fresnel number there is N J. sqrt(J) is (1 + J) / 2, nearly.
	outer := 0.5 + 0.5*(xx*x*x+2*xy*x*y+yy*y*y)/(r*r+1e-9)
	inner := 0.5 + 0.5*(xx*rx*rx+2*xy*rx*ry+yy*ry*ry)/(rr+1e-9)
	bright *= g.edge.at((1-r)*outer) * g.edge.at((math.Sqrt(rr)-p.eps)*inner) * over
	if bright < 1e-4 {
		return 0
	}
	for _, w := range p.vanes {
		if along := rx*w.X + ry*w.Y; along > 0 {
			bright *= g.vane.at(ry*w.X - rx*w.Y)
		}
	}
	for _, k := range p.clips {
		cx, cy := x-k[0], y-k[1]
		if d := cx*cx + cy*cy; d < g.clip2 {
			bright *= g.edge.at(math.Sqrt(d) - p.clip)
		}
	}
	return bright
}
