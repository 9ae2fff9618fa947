package indoors

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"
)

// Brightness of the dark parts, as a fraction of the sky's: blackened metal and paint
// (common practice, no source); and the reflectance of a mirror.
const (
	blackened = 0.05
	holder    = 0.03
	spotDark  = 0.02
	clipLevel = 0.25
	silver    = 0.9 // of one reflection
)

// glow returns the brightness that is seen along a ray from the peephole, as a
// fraction of the sky's.
func (b *bench) glow(d r3.Vec) float64 {
	s := b.s
	edge := s.Height - s.DrawDepth
	if p := r3.Add(b.eye, r3.Scale((edge-b.eye.X)/d.X, d)); hypot(p.Y, p.Z-s.SecondaryDistance) > s.Draw {
		return b.drawtube(b.eye, d)
	}
	if at, out := b.face(b.eye, d); out <= 1 {
		return silver * b.folded(at, bounce(d, b.n))
	}
	return b.across(d)
}

// drawtube is the inside of the focuser's tube, lighter toward its inner end.
func (b *bench) drawtube(o, d r3.Vec) float64 {
	s := b.s
	oy, oz := o.Y, o.Z-s.SecondaryDistance
	qa, qb, qc := d.Y*d.Y+d.Z*d.Z, oy*d.Y+oz*d.Z, oy*oy+oz*oz-s.Draw*s.Draw
	t := (-qb + math.Sqrt(math.Max(qb*qb-qa*qc, 0))) / qa
	depth := math.Abs(o.X+t*d.X-s.Height) / s.DrawDepth
	return blackened * (0.4 + 1.2*math.Min(depth, 1))
}

// across is the view past the secondary: its holder and stalk, the vanes, and the tube's
// wall with the sheet of paper on it.
func (b *bench) across(d r3.Vec) float64 {
	s, o := b.s, b.eye
	head := b.flat.Z + s.Secondary/2 + 8
	plan := hypot(d.X, d.Y)
	miss := math.Abs(o.X*d.Y-o.Y*d.X) / plan
	nearest := -(o.X*d.X + o.Y*d.Y) / (plan * plan)
	if z := o.Z + nearest*d.Z; miss < 0.4*s.Secondary && z > b.flat.Z && z < head || miss < 6 && z >= head {
		return holder
	}
	for _, v := range b.vanes {
		den := d.X*v.Y - d.Y*v.X
		if math.Abs(den) < 1e-9 {
			continue
		}
		t := -(o.X*v.Y - o.Y*v.X) / den
		x, y, z := o.X+t*d.X, o.Y+t*d.Y, o.Z+t*d.Z
		if t > 0 && x*v.X+y*v.Y > 0 && z > b.vane && z < b.vane+25 && hypot(x, y) < s.Tube {
			return holder
		}
	}
	return b.wall(o, d)
}

// wall is the tube's inside where a ray from within meets it.
func (b *bench) wall(o, d r3.Vec) float64 {
	s := b.s
	qa, qb, qc := d.X*d.X+d.Y*d.Y, o.X*d.X+o.Y*d.Y, o.X*o.X+o.Y*o.Y-s.Tube*s.Tube
	t := (-qb + math.Sqrt(math.Max(qb*qb-qa*qc, 0))) / qa
	p := r3.Add(o, r3.Scale(t, d))
	switch {
	case p.Z < 0: // the cell about the mirror
		return blackened
	case p.Z > b.top:
		return b.sky(d)
	}
	near := math.Exp((p.Z - b.top) / 200)
	if s.Light.Paper > 0 && p.X < 0 && math.Abs(p.Z-s.SecondaryDistance) < 130 && math.Abs(p.Y) < 0.75*s.Tube {
		return s.Light.Paper * (0.7 + 0.5*near)
	}
	return blackened * (0.8 + 2*near)
}

// sky is the light that comes in by the open end: a wall, or the sky.
func (b *bench) sky(d r3.Vec) float64 {
	l := b.s.Light
	sin, cos := math.Sincos(l.Angle)
	return 1 + l.Uneven*math.Max(-1, math.Min(1, 8*(d.X*cos+d.Y*sin)))/2
}

// folded is what is seen in the secondary, along a ray that goes down the tube.
func (b *bench) folded(o, d r3.Vec) float64 {
	at, p, n := b.dish(o, d)
	r := r2.Norm(at)
	if r > b.s.Aperture/2 {
		return b.wall(o, d)
	}
	if b.clip(at, r) {
		return clipLevel
	}
	if m := b.s.Mark; !m.None {
		if q := r2.Norm(r2.Sub(at, m.At)); q < m.Outer && q > m.Inner {
			return b.s.Light.Mark
		}
	}
	return silver * b.up(p, bounce(d, n))
}

// clip reports whether a point of the mirror is covered by a clip.
func (b *bench) clip(at r2.Vec, r float64) bool {
	if r < b.s.Aperture/2-5 {
		return false
	}
	a := math.Atan2(at.Y, at.X) - b.s.ClipAngle
	for i := range b.s.Clips {
		if math.Abs(math.Remainder(a-2*math.Pi*float64(i)/float64(b.s.Clips), 2*math.Pi))*r < 6 {
			return true
		}
	}
	return false
}

// up is what is seen in the mirror, along a ray that goes up the tube: vanes, the
// secondary's underside and what that shows, the sky.
func (b *bench) up(o, d r3.Vec) float64 {
	s := b.s
	at, out := b.face(o, d)
	if out <= 1 {
		return silver * b.back(at, bounce(d, b.n))
	}
	if half := s.Secondary / 2; out*half < half+1.2 {
		return holder
	}
	p := r3.Add(o, r3.Scale((b.vane-o.Z)/d.Z, d))
	for _, v := range b.vanes {
		if math.Abs(p.X*v.Y-p.Y*v.X) < 0.6 && p.X*v.X+p.Y*v.Y > 0 {
			return holder
		}
	}
	if hypot(p.X, p.Y) < 6 {
		return holder
	}
	p = r3.Add(o, r3.Scale((b.top-o.Z)/d.Z, d))
	if hypot(p.X, p.Y) > s.Tube {
		return b.wall(o, d)
	}
	return b.sky(d)
}

// back is what is seen in the secondary's second reflection: the focuser's inner
// edge, its tube, the plug's face and the dark spot of the peephole in it.
func (b *bench) back(o, d r3.Vec) float64 {
	s := b.s
	if d.X <= 0 {
		return blackened
	}
	to := func(x float64) r3.Vec { return r3.Add(o, r3.Scale((x-o.X)/d.X, d)) }
	p := to(s.Height - s.DrawDepth)
	if hypot(p.Y, p.Z-s.SecondaryDistance) > s.Draw {
		return blackened * 1.5
	}
	if p = to(s.Height); hypot(p.Y, p.Z-s.SecondaryDistance) > s.Draw {
		return blackened
	}
	if r3.Norm(r3.Sub(p, b.eye)) < s.Spot {
		return spotDark
	}
	return s.Light.Plug
}
