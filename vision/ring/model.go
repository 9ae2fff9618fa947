package ring

import "math"

// The parameters of the forward model.
const (
	pX     = iota // ring centre, px
	pY            //
	pR            // geometric radius, px
	pOX           // total offset of the shadow, radii
	pOY           //
	pKX           // coma: how far the outline moves, radii
	pKY           //
	pN            // log of the Fresnel number over that of the radius
	pEps          // obstruction
	pA0           // astigmatism, radii
	pA1           //
	pSph          // spherical aberration, radii
	pHA           // how oval the shadow is, of its radius: its edge is at eps (1 + pHA cos 2 phi + pHB sin 2 phi)
	pHB           //
	pBlur         // variance of the Gaussian blur, px^2
	pFlux         // brightness of the open pupil, ADU
	pSky          // ADU
	pSX           // slope of the sky, ADU per radius
	pSY           //
	pLX           // slope of the mirror's brightness across the ring, per radius
	pLY           //
	pVane         // first of maxVanes pairs: direction, radians, and width, radii
	nParam = pVane + 2*maxVanes
)

// maxVanes is how many spider vanes a model can have.
const maxVanes = 6

// params is one point in the space of models.
type params [nParam]float64

// evenness returns the brightness of the mirror at (x, y), radii, over that of its middle.
func (q *params) evenness(x, y float64) float64 { return 1 + q[pLX]*x + q[pLY]*y }

// shape returns what q looks like where the Fresnel number is fresnel per px of
// radius; with vanes of the spider.
func (q *params) shape(fresnel float64, vanes int) shape {
	e := q[pEps]
	s := shape{
		n:  fresnel * q[pR] * math.Exp(q[pN]),
		kx: q[pKX], ky: q[pKY],
		sx: q[pOX] + q[pKX]*(1-e*e), sy: q[pOY] + q[pKY]*(1-e*e),
		eps: e, ha: q[pHA], hb: q[pHB], a0: q[pA0], a1: q[pA1], sph: q[pSph],
		vanes: vanes,
	}
	for k := range vanes {
		s.vane[k] = vane{q[pVane+2*k], q[pVane+2*k+1]}
		s.sin[k], s.cos[k] = math.Sincos(s.vane[k].angle)
	}
	return s
}

// canvas turns parameters into pictures on a plane's grid: the blurred star of
// unit brightness, and its derivatives by those parameters that need a new
// rendering.
type canvas struct {
	*plane
	base          []float32         // sharp
	blurred       []float32         // blurred by camera pixel and air
	grad          [nParam][]float32 // blurred derivative, nil where there is none
	otf           []complex64
	turned, wider []float32 // what the vanes do, all at once
}

func newCanvas(g grid) *canvas {
	c, n := &canvas{plane: newPlane(g)}, g.n
	c.base = make([]float32, n*n)
	c.blurred = make([]float32, n*n)
	c.otf = make([]complex64, n)
	c.turned, c.wider = make([]float32, n*n), make([]float32, n*n)
	return c
}

// stepOf holds the step of the numerical derivative for those parameters whose derivative
// is a picture of its own: small beside what the picture resolves, and far above rounding.
var stepOf = [nParam]float64{pOX: 1e-3, pOY: 1e-3, pKX: 1e-3, pKY: 1e-3, pN: 1e-3, pEps: 1e-3, pHA: 1e-2, pHB: 1e-2, pA0: 1e-3, pA1: 1e-3, pSph: 1e-3}

// vaneStep is the same for the direction of a vane, radians, and its width, radii.
const vaneStep = 2e-3

// draw renders q. pixel is the side of a data pixel, px.
func (c *canvas) draw(q *params, fresnel float64, vanes int, pixel float64) {
	s := q.shape(fresnel, vanes)
	c.render(&s, c.base)
	c.setOTF(q, pixel)
	copy(c.blurred, c.base)
	c.blur(c.blurred, nil)
}

// derive renders the derivatives by the free parameters at q, which must be drawn. They need
// not be as exact as the picture: an error in them only makes the fit slower.
func (c *canvas) derive(q *params, fresnel float64, vanes int, free []int) {
	for _, k := range free {
		if c.grad[k] == nil && (k >= pVane || k == pBlur || stepOf[k] > 0) {
			c.grad[k] = make([]float32, c.n*c.n)
		}
	}
	var half []float32
	if vanes > 0 {
		c.deriveVanes(q, fresnel, vanes)
	}
	for _, k := range free {
		g := c.grad[k]
		switch {
		case g == nil || k >= pVane:
			continue
		case k == pBlur:
			c.spread(g, q[pR])
			continue
		}
		t := *q
		t[k] += stepOf[k]
		s := t.shape(fresnel, vanes)
		c.render(&s, g)
		inv := float32(1 / stepOf[k])
		for i := range g {
			g[i] = (g[i] - c.base[i]) * inv
		}
		if half == nil { // two pictures share one transform
			half = g
		} else {
			c.blur(half, g)
			half = nil
		}
	}
	if half != nil {
		c.blur(half, nil)
	}
}

// deriveVanes sets the derivatives by direction and width of the vanes, from a picture with
// all of them turned and one with all of them wider. A vane is thin compared with the
// fringes: what changes is near its own line.
func (c *canvas) deriveVanes(q *params, fresnel float64, vanes int) {
	for d, out := range [][]float32{c.turned, c.wider} {
		t := *q
		for k := range vanes {
			t[pVane+2*k+d] += vaneStep
		}
		s := t.shape(fresnel, vanes)
		c.render(&s, out)
		for i := range out {
			out[i] = (out[i] - c.base[i]) / vaneStep
		}
	}
	c.blur(c.turned, c.wider)
	for k := range 2 * vanes {
		clear(c.grad[pVane+k])
	}
	s := q.shape(fresnel, vanes)
	for at := range c.turned {
		x, y := float64(at%c.n-c.n/2)*c.step-s.sx, float64(at/c.n-c.n/2)*c.step-s.sy
		near, best := 0, math.Inf(-1)
		for k := range vanes {
			if d := x*s.cos[k] + y*s.sin[k]; d > best {
				near, best = k, d
			}
		}
		c.grad[pVane+2*near][at], c.grad[pVane+2*near+1][at] = c.turned[at], c.wider[at]
	}
}

// setOTF makes the transfer function of Gaussian blur times square pixel, along
// one axis.
func (c *canvas) setOTF(q *params, pixel float64) {
	v := q[pBlur] / (q[pR] * q[pR])
	side := pixel / q[pR]
	for i := range c.otf {
		f := c.freq(i)
		t := math.Exp(-2*math.Pi*math.Pi*v*f*f) * sinc(f*side) / float64(c.n)
		if c.smooth {
			t *= 3 / (2 + math.Cos(2*math.Pi*f*c.step)) // from values to the coefficients of a cubic spline
		}
		c.otf[i] = complex(float32(t), 0)
	}
}

func sinc(x float64) float64 {
	if math.Abs(x) < 1e-8 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}

// blur filters the pictures a and b (which may be nil) in place.
func (c *canvas) blur(a, b []float32) {
	w := c.field
	for i, v := range a {
		w[i] = complex(v, 0)
	}
	for i, v := range b {
		w[i] += complex(0, v)
	}
	c.conv.run(w, c.n, 0, c.n, c.otf)
	transpose(w, c.n)
	c.conv.run(w, c.n, 0, c.n, c.otf)
	transpose(w, c.n)
	for i := range a {
		a[i] = real(w[i])
	}
	for i := range b {
		b[i] = imag(w[i])
	}
}

// spread sets out to half the Laplacian of the blurred picture: its derivative by
// the blur's variance, in px^2 where a radius is r px.
func (c *canvas) spread(out []float32, r float64) {
	n := c.n
	s := float32(0.5 / (12 * c.step * c.step * r * r))
	clear(out)
	for j := 2; j < n-2; j++ {
		for i := 2; i < n-2; i++ {
			at := j*n + i
			d := c.blurred
			out[at] = s * (16*(d[at-1]+d[at+1]+d[at-n]+d[at+n]) - d[at-2] - d[at+2] - d[at-2*n] - d[at+2*n] - 60*d[at])
		}
	}
}

// tap is a place on the grid with its cubic interpolation weights.
type tap struct {
	at     int // index of the first of 4 x 4 grid points
	wx, wy [4]float32
	dx, dy [4]float32 // derivatives per radius
}

// tapAt returns the tap for (x, y) in radii, false where it is off the grid.
func (c *canvas) tapAt(x, y float64, t *tap) bool {
	u, v := x/c.step+float64(c.n/2), y/c.step+float64(c.n/2)
	i, j := int(math.Floor(u)), int(math.Floor(v))
	if i < 1 || j < 1 || i > c.n-3 || j > c.n-3 {
		return false
	}
	t.at = (j-1)*c.n + i - 1
	between := cubic
	if c.smooth {
		between = spline
	}
	between(float32(u-float64(i)), &t.wx, &t.dx)
	between(float32(v-float64(j)), &t.wy, &t.dy)
	for k := range 4 {
		t.dx[k] /= float32(c.step)
		t.dy[k] /= float32(c.step)
	}
	return true
}

// cubic sets Lagrange's four-point weights, and their derivatives, at 0 <= f < 1
// between the second and third point.
func cubic(f float32, w, d *[4]float32) {
	a, b, c := f+1, f-1, f-2
	w[0] = -f * b * c / 6
	w[1] = a * b * c / 2
	w[2] = -a * f * c / 2
	w[3] = a * f * b / 6
	d[0] = -(b*c + f*c + f*b) / 6
	d[1] = (b*c + a*c + a*b) / 2
	d[2] = -(f*c + a*c + a*f) / 2
	d[3] = (f*b + a*b + a*f) / 6
}

// spline sets the weights of a cubic spline's coefficients as cubic does those of values.
func spline(f float32, w, d *[4]float32) {
	g := 1 - f
	w[0], w[3] = g*g*g/6, f*f*f/6
	w[1], w[2] = 2./3-f*f*(1+g)/2, 2./3-g*g*(1+f)/2
	d[0], d[3] = -g*g/2, f*f/2
	d[1], d[2] = f*(3*f-4)/2, g*(4-3*g)/2
}

func (c *canvas) value(img []float32, t *tap) float64 {
	var sum float32
	for k := range 4 {
		r := img[t.at+k*c.n:][:4]
		sum += t.wy[k] * (t.wx[0]*r[0] + t.wx[1]*r[1] + t.wx[2]*r[2] + t.wx[3]*r[3])
	}
	return float64(sum)
}

// slope returns value and gradient per radius.
func (c *canvas) slope(img []float32, t *tap) (v, gx, gy float64) {
	var sv, sx, sy float32
	for k := range 4 {
		r := img[t.at+k*c.n:][:4]
		a := t.wx[0]*r[0] + t.wx[1]*r[1] + t.wx[2]*r[2] + t.wx[3]*r[3]
		sv += t.wy[k] * a
		sy += t.dy[k] * a
		sx += t.wy[k] * (t.dx[0]*r[0] + t.dx[1]*r[1] + t.dx[2]*r[2] + t.dx[3]*r[3])
	}
	return float64(sv), float64(sx), float64(sy)
}
