package day

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r2"
)

// response is what is known of three screws: how the view answers to each. The
// three together only push or pull, so their answers sum to zero; any such three
// are one linear map of three directions 120 degrees apart, whichever way round
// the picture is. Four numbers, learned by a Kalman filter from the nudges.
//
// A 45-degree mirror answers twice as far one way as the other, so that the
// rotation and parity that serve for the main mirror by night do not do here.
type response struct {
	x    *mat.VecDense // of the map: x answers to (cos, sin), then y
	p    *mat.SymDense
	seen [3]int
	gain float64 // what a turn is expected to do, mm
}

func newResponse(gain float64) *response {
	r := &response{gain: gain}
	r.reset()
	return r
}

// reset forgets what was learned.
func (r *response) reset() {
	r.x, r.p, r.seen = mat.NewVecDense(4, nil), mat.NewSymDense(4, nil), [3]int{}
	for i := range 4 {
		r.p.SetSym(i, i, r.gain*r.gain)
	}
}

func direction(k int) (c, s float64) {
	s, c = math.Sincos(2 * math.Pi * float64(k) / 3)
	return c, s
}

// of returns the answer to one turn of screw k, tightened, and its one-sigma, mm.
func (r *response) of(k int) (u r2.Vec, sd float64) {
	c, s := direction(k)
	u = r2.Vec{X: c*r.x.AtVec(0) + s*r.x.AtVec(1), Y: c*r.x.AtVec(2) + s*r.x.AtVec(3)}
	v := func(i int) float64 {
		return c*c*r.p.At(i, i) + 2*c*s*r.p.At(i, i+1) + s*s*r.p.At(i+1, i+1)
	}
	return u, math.Sqrt(v(0) + v(2))
}

// known reports whether the answer to screw k is known well enough to plan by.
func (r *response) known(k int) bool {
	u, sd := r.of(k)
	return sd < 0.6*r2.Norm(u)
}

// all reports whether that is so of all three.
func (r *response) all() bool { return r.known(0) && r.known(1) && r.known(2) }

// What hands do. Common practice, no source.
const (
	handAmount   = 0.3  // of a turn
	handBacklash = 0.02 // turns lost in the thread, or not felt
	directionSD  = 0.06 // how well a jump's direction tells the screw's, radians
)

// learn takes in that screw k was turned by turns (> 0 tightened) and the view went
// by d, known to within sd; cut says that it was stopped short.
func (r *response) learn(k int, turns float64, d r2.Vec, sd float64, cut bool) {
	size := r2.Norm(d)
	if turns == 0 || size == 0 {
		return
	}
	c, s := direction(k)
	h := mat.NewDense(2, 4, []float64{c * turns, s * turns, 0, 0, 0, 0, c * turns, s * turns})
	u, _ := r.of(k)
	predicted := r2.Norm(u) * math.Abs(turns)
	along := math.Hypot(handAmount*math.Max(size, predicted), math.Hypot(handBacklash*r2.Norm(u), sd))
	if cut && size < predicted {
		along = 5 * size // it tells the way, and that the answer is no less
	}
	across := directionSD*size + sd
	e := r2.Scale(1/size, d)
	a2, b2 := along*along, across*across
	noise := mat.NewSymDense(2, []float64{
		a2*e.X*e.X + b2*e.Y*e.Y, (a2 - b2) * e.X * e.Y,
		(a2 - b2) * e.X * e.Y, a2*e.Y*e.Y + b2*e.X*e.X,
	})
	var at, dx mat.VecDense
	at.MulVec(h, r.x)
	nu := mat.NewVecDense(2, []float64{d.X - at.AtVec(0), d.Y - at.AtVec(1)})
	var ph, sum, inv, gain, step mat.Dense
	weigh := func() error { // what was predicted against noise
		ph.Mul(r.p, h.T())
		sum.Mul(h, &ph)
		sum.Add(&sum, noise)
		return inv.Inverse(&sum)
	}
	if weigh() != nil {
		return // nothing is learned from a jump without size
	}
	// A jump far beyond what was predicted makes what is known less sure: an early turn that
	// went wrong must not be believed for ever. With two degrees of freedom chi-squared is 2
	// in the mean, above 6 one time in 20.
	if chi := mat.Inner(nu, &inv, nu); chi > 6 {
		r.p.ScaleSym(math.Min(chi/2, 10), r.p)
		if weigh() != nil {
			return
		}
	}
	gain.Mul(&ph, &inv)
	dx.MulVec(&gain, nu)
	r.x.AddVec(r.x, &dx)
	step.Mul(&gain, ph.T())
	step.Sub(r.p, &step)
	r.symmetric(&step)
	r.seen[k]++
}

// symmetric takes a covariance that rounding has left not quite symmetric.
func (r *response) symmetric(p *mat.Dense) {
	for i := range 4 {
		for j := i; j < 4; j++ {
			r.p.SetSym(i, j, (p.At(i, j)+p.At(j, i))/2)
		}
	}
}

// turn rotates all answers by an angle: the camera was turned.
func (r *response) turn(angle float64) {
	s, c := math.Sincos(angle)
	m := mat.NewDense(4, 4, []float64{c, 0, -s, 0, 0, c, 0, -s, s, 0, c, 0, 0, s, 0, c})
	var x mat.VecDense
	x.MulVec(m, r.x)
	r.x = &x
	var q, full mat.Dense
	q.Mul(m, r.p)
	full.Mul(&q, m.T())
	r.symmetric(&full)
}

// posterior tells which screw was turned, and which way (+1 tightens), by the way d
// that the view went, where it is not the one that was asked for; sure is false
// where that cannot be told.
func (r *response) posterior(asked int, way float64, d r2.Vec) (k int, did float64, sure bool) {
	cos := func(k int, w float64) float64 {
		u, _ := r.of(k)
		return w * r2.Dot(u, d) / (r2.Norm(u)*r2.Norm(d) + 1e-12)
	}
	k, did = asked, way
	if !r.known(asked) || cos(asked, way) > 0.6 {
		return k, did, false
	}
	best := -1.0
	for j := range 3 {
		for _, w := range [2]float64{1, -1} {
			if x := cos(j, w); r.known(j) && x > best {
				best, k, did = x, j, w
			}
		}
	}
	return k, did, best > 0.93
}
