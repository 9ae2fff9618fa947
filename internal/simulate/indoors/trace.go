package indoors

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"
)

// bench is the scene as it stands at one moment, made ready for rays.
type bench struct {
	s          *Scene
	eye        r3.Vec // the peephole
	look       [3]r3.Vec
	flat       r3.Vec  // centre of the secondary's face
	n, long, w r3.Vec  // its normal, and the directions of its long and short axis
	mx, my, mn r3.Vec  // the mirror's own axes
	top        float64 // the tube's open end
	vane       float64 // lower edge of the vanes
	vanes      []r2.Vec
}

// stand sets the scene up with the mirror's normal leaning by tilt, and the
// secondary rotated by turned (about x, y and z) and moved along the tube by lift.
func (s *Scene) stand(tilt r2.Vec, turned r3.Vec, lift float64) *bench {
	b := &bench{s: s}
	sin, cos := math.Sincos(s.Plug)
	at := r2.Vec{X: cos*s.Peephole.X - sin*s.Peephole.Y, Y: sin*s.Peephole.X + cos*s.Peephole.Y}
	b.eye = r3.Vec{X: s.Height, Y: at.X, Z: s.SecondaryDistance + at.Y}
	b.mn = r3.Unit(r3.Vec{X: tilt.X, Y: tilt.Y, Z: 1})
	b.mx = r3.Unit(r3.Cross(r3.Vec{Y: 1}, b.mn))
	b.my = r3.Cross(b.mn, b.mx)
	spin := func(v r3.Vec) r3.Vec {
		if a := r3.Norm(turned); a > 0 {
			return r3.NewRotation(a, turned).Rotate(v)
		}
		return v
	}
	b.n = spin(r3.Vec{X: math.Sqrt2 / 2, Z: -math.Sqrt2 / 2})
	b.long = spin(r3.Vec{X: math.Sqrt2 / 2, Z: math.Sqrt2 / 2})
	b.w = spin(r3.Vec{Y: 1})
	b.flat = r3.Vec{X: -s.Offset, Y: s.Shift.X, Z: s.SecondaryDistance - s.Offset + s.Shift.Y + lift}
	b.vane = s.SecondaryDistance + s.Secondary/2 + 12
	b.top = b.vane + 80
	for i := range s.Vanes {
		sin, cos := math.Sincos(s.VaneAngle + 2*math.Pi*float64(i)/float64(s.Vanes))
		b.vanes = append(b.vanes, r2.Vec{X: cos, Y: sin})
	}
	b.aim()
	return b
}

// aim makes the camera's axes: right, down and ahead. It turns with the plug.
func (b *bench) aim() {
	c := b.s.Camera
	right, down, ahead := r3.Vec{Y: 1}, r3.Vec{Z: -1}, r3.Vec{X: -1}
	spin := func(v r3.Vec, a float64, about r3.Vec) r3.Vec { return r3.NewRotation(a, about).Rotate(v) }
	turn := c.Rotation
	ahead, right = spin(ahead, c.Aim.X, down), spin(right, c.Aim.X, down)
	ahead, down = spin(ahead, c.Aim.Y, right), spin(down, c.Aim.Y, right)
	right, down = spin(right, turn, ahead), spin(down, turn, ahead)
	plug := r3.Vec{X: 1} // the plug turns from y toward z, which is about +x
	if b.s.Plug != 0 {
		right, down, ahead = spin(right, b.s.Plug, plug), spin(down, b.s.Plug, plug), spin(ahead, b.s.Plug, plug)
	}
	b.look = [3]r3.Vec{right, down, ahead}
}

// ray is the direction in which the camera sees pixel (x, y).
func (b *bench) ray(x, y float64) r3.Vec {
	c := b.s.Camera
	u := (x - float64(c.Width-1)/2) / c.FocalPX
	v := (y - float64(c.Height-1)/2) / c.FocalPX
	return r3.Add(b.look[2], r3.Add(r3.Scale(u, b.look[0]), r3.Scale(v, b.look[1])))
}

// pixel is where the camera sees a direction: the inverse of ray.
func (b *bench) pixel(d r3.Vec) r2.Vec {
	c := b.s.Camera
	k := c.FocalPX / r3.Dot(d, b.look[2])
	return r2.Vec{X: k*r3.Dot(d, b.look[0]) + float64(c.Width-1)/2, Y: k*r3.Dot(d, b.look[1]) + float64(c.Height-1)/2}
}

// face returns where a ray meets the secondary's plane, and how far out that is:
// below 1 it is on the glass.
func (b *bench) face(o, d r3.Vec) (at r3.Vec, out float64) {
	t := r3.Dot(r3.Sub(b.flat, o), b.n) / r3.Dot(d, b.n)
	if !(t > 1e-6) {
		return at, math.Inf(1)
	}
	at = r3.Add(o, r3.Scale(t, d))
	v := r3.Sub(at, b.flat)
	half := b.s.Secondary / 2
	return at, hypot(r3.Dot(v, b.long)/(half*math.Sqrt2), r3.Dot(v, b.w)/half)
}

// hypot is quicker than math.Hypot, which guards against overflow.
func hypot(x, y float64) float64 { return math.Sqrt(x*x + y*y) }

// bounce is the law of reflection.
func bounce(d, n r3.Vec) r3.Vec { return r3.Sub(d, r3.Scale(2*r3.Dot(d, n), n)) }

// dish returns where a ray that goes down meets the paraboloid z = r^2 / 4f, in
// the mirror's own axes, and the normal there.
func (b *bench) dish(o, d r3.Vec) (at r2.Vec, p, n r3.Vec) {
	ox, oy, oz := r3.Dot(o, b.mx), r3.Dot(o, b.my), r3.Dot(o, b.mn)
	dx, dy, dz := r3.Dot(d, b.mx), r3.Dot(d, b.my), r3.Dot(d, b.mn)
	f4 := 4 * b.s.FocalLength
	qa := dx*dx + dy*dy
	qb := 2*(ox*dx+oy*dy) - f4*dz
	qc := ox*ox + oy*oy - f4*oz
	t := -2 * qc / (qb + math.Sqrt(math.Max(qb*qb-4*qa*qc, 0)))
	at = r2.Vec{X: ox + t*dx, Y: oy + t*dy}
	p = r3.Add(o, r3.Scale(t, d))
	k := -2 / f4
	n = r3.Add(b.mn, r3.Add(r3.Scale(k*at.X, b.mx), r3.Scale(k*at.Y, b.my)))
	return at, p, r3.Unit(n)
}

// AxisAtPlug returns where the mirror's axis, folded by the secondary, passes the plane of
// the peephole, off the focuser's own axis: along y, and along z. The adjustment is to
// bring it to 0.
func (b *bench) axisAtPlug() r2.Vec {
	at, _ := b.face(r3.Vec{}, b.mn)
	d := bounce(b.mn, b.n)
	p := r3.Add(at, r3.Scale((b.s.Height-at.X)/d.X, d))
	return r2.Vec{X: p.Y, Y: p.Z - b.s.SecondaryDistance}
}
