package indoors

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"halocue/internal/simulate/telescope"
	"halocue/vision/frame"
)

// screw is one adjuster: how far it was turned, > 0 tightened, and how far the
// mirror has followed, turns.
type screw struct{ turned, followed float64 }

func (s *screw) turn(by, play float64) {
	s.turned += by
	s.followed = math.Min(math.Max(s.followed, s.turned-play/2), s.turned+play/2)
}

// Telescope is the scene with its screws. It is not safe for concurrent use.
type Telescope struct {
	s         Scene
	primary   [3]screw
	secondary [3]screw
	noise     *rand.Rand
	clean     []float32 // the view without noise, as a fraction of clipping
	rough     []float32 // the same with one ray a pixel
	seen      *bench    // what clean was drawn of
}

// New sets the scene up.
func New(s Scene) *Telescope {
	return &Telescope{s: s, noise: rand.New(rand.NewPCG(s.Seed, 77))}
}

// Scene returns what the telescope was made of; the plug stands as it is now.
func (t *Telescope) Scene() Scene { return t.s }

// lean returns the tilt of a plate on three screws, (2/3b) times the sum of their travels
// along their directions (the plane through three points on a circle of radius b), and
// how far they lift it. The knobs' clock runs back from zero.
func lean(c telescope.Cell, screws [3]screw, zero float64) (tilt r2.Vec, lift float64) {
	for k, s := range screws {
		d := c.Forward() * s.followed
		sin, cos := math.Sincos(zero - c.Knobs[k].Clock*math.Pi/6)
		tilt = r2.Add(tilt, r2.Scale(-2*d/(3*c.BoltRadius), r2.Vec{X: cos, Y: sin}))
		lift += d / 3
	}
	return tilt, lift
}

func (t *Telescope) bench() *bench {
	// From behind the mirror one looks along +z: the clock runs from y to x.
	tilt, _ := lean(t.s.Cell, t.primary, t.s.Up)
	// Into the open end one looks along -z: the clock runs the same way round, and
	// a screw that is driven in pushes the holder down the tube.
	down := t.s.Holder
	side, lift := lean(down, t.secondary, 0)
	// A plate whose normal leans by (lx, ly) has turned by -ly about x, lx about y;
	// driven in, it goes down: the opposite.
	turned := r3.Vec{X: t.s.Turned.X + side.Y, Y: t.s.Turned.Y - side.X, Z: t.s.Twisted}
	return t.s.stand(r2.Add(t.s.Tilt, tilt), turned, -lift)
}

// Truth is the true state, which the measurement must find.
type Truth struct {
	Axis        r2.Vec     // the mirror's axis at the peephole's plane, off the focuser's axis, mm: along y, and along z
	Peephole    r2.Vec     // off the focuser's axis, mm, as the plug stands now
	Primary     r2.Vec     // where the mirror's centre is seen, px
	Secondary   r2.Vec     // middle of the secondary's outline, px
	Reflection  r2.Vec     // where the peephole's reflection is seen, px
	Mark        r2.Vec     // where the mark is seen, px
	Radius      float64    // of the mirror's outline, px
	Rim         float64    // of the secondary's, in the mean, px
	Sky         r2.Vec     // which way the tube's open end lies in the picture, a unit vector
	SmallScrews [3]float64 // turns since the start, > 0 tightened
}

// Truth returns what is true now.
func (t *Telescope) Truth() Truth {
	b := t.bench()
	tr := Truth{Axis: b.axisAtPlug(), Peephole: r2.Vec{X: b.eye.Y, Y: b.eye.Z - t.s.SecondaryDistance}}
	tr.Mark = b.seenAt(t.s.Mark.At)
	tr.Reflection = b.seenAt(b.mirrored())
	half := t.s.Secondary / 2
	tr.Secondary = middle(func(sin, cos float64) r2.Vec {
		rim := r3.Add(b.flat, r3.Add(r3.Scale(half*math.Sqrt2*cos, b.long), r3.Scale(half*sin, b.w)))
		return b.pixel(r3.Sub(rim, b.eye))
	})
	for i := range 4 {
		sin, cos := math.Sincos(math.Pi / 2 * float64(i))
		p := r3.Add(b.flat, r3.Add(r3.Scale(half*math.Sqrt2*cos, b.long), r3.Scale(half*sin, b.w)))
		tr.Rim += r2.Norm(r2.Sub(b.pixel(r3.Sub(p, b.eye)), tr.Secondary)) / 4
	}
	to := r3.Sub(b.flat, b.eye)
	tr.Sky = r2.Unit(r2.Sub(b.pixel(r3.Add(to, r3.Vec{Z: 1})), b.pixel(to)))
	rim := func(sin, cos float64) r2.Vec { return b.seenAt(r2.Scale(t.s.Aperture/2, r2.Vec{X: cos, Y: sin})) }
	tr.Primary = middle(rim)
	tr.Radius = r2.Norm(r2.Sub(rim(1, 0), tr.Primary))
	for k := range 3 {
		tr.SmallScrews[k] = t.secondary[k].turned
	}
	return tr
}

// middle returns the middle of an oval: halfway between its ends, either way.
func middle(outline func(sin, cos float64) r2.Vec) r2.Vec {
	lo, hi := r2.Vec{X: math.Inf(1), Y: math.Inf(1)}, r2.Vec{X: math.Inf(-1), Y: math.Inf(-1)}
	for i := range 720 {
		p := outline(math.Sincos(2 * math.Pi * float64(i) / 720))
		lo.X, lo.Y = math.Min(lo.X, p.X), math.Min(lo.Y, p.Y)
		hi.X, hi.Y = math.Max(hi.X, p.X), math.Max(hi.Y, p.Y)
	}
	return r2.Scale(0.5, r2.Add(lo, hi))
}

// seenAt returns the pixel in which a point of the mirror is seen: the mirror
// image of the eye in the secondary sees it straight.
func (b *bench) seenAt(at r2.Vec) r2.Vec {
	z := r2.Norm2(at) / (4 * b.s.FocalLength)
	p := r3.Add(r3.Scale(z, b.mn), r3.Add(r3.Scale(at.X, b.mx), r3.Scale(at.Y, b.my)))
	image := r3.Sub(p, r3.Scale(2*r3.Dot(r3.Sub(p, b.flat), b.n), b.n))
	return b.pixel(r3.Sub(image, b.eye))
}

// mirrored returns the point of the mirror in which the peephole sees itself, where the
// normal passes through the eye. It is found by iteration.
func (b *bench) mirrored() r2.Vec {
	image := r3.Sub(b.eye, r3.Scale(2*r3.Dot(r3.Sub(b.eye, b.flat), b.n), b.n))
	e := r2.Vec{X: r3.Dot(image, b.mx), Y: r3.Dot(image, b.my)}
	h, f := r3.Dot(image, b.mn), b.s.FocalLength
	at := r2.Vec{}
	for range 20 { // at + slope * (h - z) = e, with slope -at/2f
		z := r2.Norm2(at) / (4 * f)
		at = r2.Scale(1/(1-(h-z)/(2*f)), e)
	}
	return at
}

// Render draws what the camera sees now.
func (t *Telescope) Render(f *frame.Frame) {
	c := t.s.Camera
	b := t.bench()
	if t.seen == nil || moved(t.seen, b) {
		t.draw(b)
	}
	f.Resize(c.Width, c.Height)
	l := t.s.Light
	f.White = 255
	for i, v := range t.clean {
		e := float64(v) * l.FullWell
		e += math.Sqrt(e+l.Read*l.Read) * t.noise.NormFloat64()
		f.Pix[i] = float32(math.Round(math.Min(math.Max(e/l.FullWell*255+2, 0), 255)))
	}
}

// moved reports whether the view has changed.
func moved(a, b *bench) bool {
	far := r3.Norm(r3.Sub(a.mn, b.mn)) + r3.Norm(r3.Sub(a.n, b.n)) + r3.Norm(r3.Sub(a.look[0], b.look[0]))
	return far > 1e-7 || r3.Norm(r3.Sub(a.flat, b.flat))+r3.Norm(r3.Sub(a.eye, b.eye)) > 1e-4
}
