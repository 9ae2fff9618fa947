package repeatability

import (
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/stat/distuv"

	"halocue/vision/ring"
	"halocue/vision/robust"
)

// Turned is the circle that something draws while camera or tool is turned round
// in the focuser.
type Turned struct {
	ring.Circle
	CentreSigma r2.Vec  // standard deviations of the centre
	RadiusSigma float64 // and of the radius
	RMS         float64 // distance of the looks from the circle, with n-3
	Bound       float64 // the centre is within this with 99 % probability
	Gap         float64 // largest angle without a look, degrees
}

// Why a circle cannot be fitted.
var (
	ErrFewTurns = errors.New("a circle needs five looks or more; turn it by an eighth of a turn between looks, all the way round")
	ErrNoCircle = errors.New("the looks draw no circle: either nothing was turned, or the light stands in the very middle; bring it half way to the frame's edge, and turn by an eighth of a turn between looks")
	ErrShortArc = errors.New("the looks cover less than half a turn; go on turning, all the way round")
)

const fewestTurns = 5

// Turn fits the circle. The sigmas are from the looks' own distances from it and the
// geometry, s^2 (J'J)^-1 with n-3 degrees of freedom, as in any least-squares fit.
func Turn(looks []Look) (Turned, error) {
	var t Turned
	if len(looks) < fewestTurns {
		return t, ErrFewTurns
	}
	points := make([]r2.Vec, len(looks))
	for i, l := range looks {
		points[i] = l.At
	}
	c, squares, ok := robust.FitCircle(points)
	if !ok {
		return t, ErrNoCircle
	}
	free := float64(len(looks) - 3)
	t.Circle, t.RMS = c, math.Sqrt(squares/free)
	var h mat.SymDense
	h.ReuseAsSym(3)
	var angles []float64
	for _, p := range points {
		u := r2.Unit(r2.Sub(p, r2.Vec{X: c.X, Y: c.Y}))
		h.SymRankOne(&h, 1, mat.NewVecDense(3, []float64{u.X, u.Y, 1}))
		angles = append(angles, math.Atan2(u.Y, u.X))
	}
	t.Gap = gap(angles)
	if t.Gap > 180 {
		return t, ErrShortArc
	}
	var chol mat.Cholesky
	var inv mat.SymDense
	if !chol.Factorize(&h) || chol.InverseTo(&inv) != nil {
		return t, ErrNoCircle
	}
	t.CentreSigma = r2.Scale(t.RMS, r2.Vec{X: math.Sqrt(inv.At(0, 0)), Y: math.Sqrt(inv.At(1, 1))})
	t.RadiusSigma = t.RMS * math.Sqrt(inv.At(2, 2))
	if c.Radius < 4*t.RMS {
		return t, ErrNoCircle
	}
	f := distuv.F{D1: 2, D2: free}.Quantile(certain)
	t.Bound = t.RMS * math.Sqrt((inv.At(0, 0)+inv.At(1, 1))*f)
	return t, nil
}

// gap returns the largest angle between neighbours on a circle, degrees.
func gap(angles []float64) float64 {
	slices.Sort(angles)
	widest := 2*math.Pi - (angles[len(angles)-1] - angles[0])
	for i := range angles[1:] {
		widest = max(widest, angles[i+1]-angles[i])
	}
	return widest * 180 / math.Pi
}

// Tilt returns the angle, radians, by which a beam leaves the axis of its holder,
// where turning the holder draws a circle of the given radius at a distance.
func Tilt(radius, distance float64) float64 { return math.Atan2(radius, distance) }

// scatter returns the scatter of the seatings, from n positions round the circle. Only
// the scatter across the circle is seen; along it, it is assumed to be the same.
func (t Turned) scatter(n int, noise float64) Scatter {
	free := float64(n - 3)
	s := Scatter{Looks: n, Mean: r2.Vec{X: t.X, Y: t.Y}, SD: t.RMS, Noise: noise, shape: 2}
	f := distuv.F{D1: 2, D2: free}.Quantile(certain)
	s.Bound = t.RMS * math.Sqrt(2*(1+1/float64(n))*f)
	s.Least = t.RMS * math.Sqrt(free/distuv.ChiSquared{K: free}.Quantile(fairly)*distuv.ChiSquared{K: 2}.Quantile(certain))
	return s
}
