package platescale

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/robust"
)

const (
	fewest    = 20  // points, below which nothing is said
	tuning    = 4.7 // of Tukey's biweight, robust standard deviations
	steepest  = 120 // points of which all pairs of slopes are looked at
	leastTrip = 6.0 // px, and robust sigmas of a point, that the star must have gone
)

// Fit fits a straight, steady motion to the points, which run forward in time. The start
// is the median of slopes (Theil and Sen), which is right with up to a quarter of wrong
// points; then least squares with Tukey's biweight. Neighbours in time have the same
// error (seeing, wind), so Sigma is larger by the residuals' autocorrelation.
func Fit(points []Point) (Line, error) {
	l, err := fit(points, fewest)
	if err == nil && unsteady(points, l) {
		err = ErrUnsteady
	}
	return l, err
}

// fit is Fit for at least so many points, and does not look at parts of the run.
func fit(points []Point, least int) (l Line, err error) {
	l.Of = len(points)
	if l.Of < least {
		return l, ErrFew
	}
	l.Seconds = points[l.Of-1].T - points[0].T
	if l.Seconds <= 0 {
		return l, ErrFew
	}
	l.Velocity = start(points)
	residuals := make([]r2.Vec, l.Of)
	weight, size := make([]float64, l.Of), make([]float64, l.Of)
	mid := (points[0].T + points[l.Of-1].T) / 2
	at := medianPoint(points, func(p Point) r2.Vec { return r2.Sub(p.At, r2.Scale(p.T-mid, l.Velocity)) })
	var stt float64
	for range 10 {
		for i, p := range points {
			residuals[i] = r2.Sub(p.At, r2.Add(at, r2.Scale(p.T-mid, l.Velocity)))
			size[i] = r2.Norm(residuals[i])
		}
		// The median of a Rayleigh distribution is 1.1774 sigma.
		limit := tuning * max(robust.MeanMedian(size)/1.1774, 0.02)
		var sw, st float64
		var sp r2.Vec
		for i, p := range points {
			u := r2.Norm(residuals[i]) / limit
			weight[i] = 0
			if u < 1 {
				weight[i] = (1 - u*u) * (1 - u*u)
			}
			sw += weight[i]
			st += weight[i] * (p.T - mid)
			sp = r2.Add(sp, r2.Scale(weight[i], p.At))
		}
		if sw < float64(least)/2 {
			return l, ErrUnsteady
		}
		mt, mp := st/sw, r2.Scale(1/sw, sp)
		var stp r2.Vec
		stt = 0
		for i, p := range points {
			dt := p.T - mid - mt
			stt += weight[i] * dt * dt
			stp = r2.Add(stp, r2.Scale(weight[i]*dt, r2.Sub(p.At, mp)))
		}
		if stt <= 0 {
			return l, ErrFew
		}
		l.Velocity = r2.Scale(1/stt, stp)
		at = r2.Sub(mp, r2.Scale(mt, l.Velocity))
	}
	var ss, sw float64
	for i, w := range weight {
		if w > 0 {
			l.Used++
		}
		ss += w * r2.Norm2(residuals[i]) / 2
		sw += w
	}
	l.RMS = math.Sqrt(ss / sw * float64(l.Used) / float64(l.Used-2))
	l.Sigma = math.Hypot(l.RMS, quantisation) * math.Sqrt(correlation(residuals, weight)/stt)
	if l.Used < least || 2*l.Used < l.Of {
		return l, ErrUnsteady
	}
	if trip := r2.Norm(l.Velocity) * l.Seconds; trip < leastTrip || trip < leastTrip*l.RMS {
		return l, ErrStill
	}
	return l, nil
}

// quantisation is the least scatter that is assumed, px (judgement).
const quantisation = 0.02

// start returns the median slope over pairs of points at least a third of the run
// apart.
func start(points []Point) r2.Vec {
	some := points
	if len(points) > steepest {
		some = nil
		for i := range steepest {
			some = append(some, points[i*(len(points)-1)/(steepest-1)])
		}
	}
	apart := (points[len(points)-1].T - points[0].T) / 3
	var x, y []float64
	for i, p := range some {
		for _, q := range some[i+1:] {
			if dt := q.T - p.T; dt >= apart && dt > 0 {
				x, y = append(x, (q.At.X-p.At.X)/dt), append(y, (q.At.Y-p.At.Y)/dt)
			}
		}
	}
	return r2.Vec{X: robust.MeanMedian(x), Y: robust.MeanMedian(y)}
}

// correlation returns 1 + 2 sum of the autocorrelations of the residuals that
// count, up to the first that is not above nought (Sokal's window, made simple): how
// many neighbours are worth one independent point. At least 1.
func correlation(residuals []r2.Vec, weight []float64) float64 {
	var kept []r2.Vec
	for i, r := range residuals {
		if weight[i] > 0 {
			kept = append(kept, r)
		}
	}
	var zero float64
	for _, r := range kept {
		zero += r2.Norm2(r)
	}
	if zero == 0 {
		return 1
	}
	sum := 1.0
	for lag := 1; lag < len(kept)/3; lag++ {
		var c float64
		for i := range kept[lag:] {
			c += r2.Dot(kept[i], kept[i+lag])
		}
		if c <= 0 {
			break
		}
		sum += 2 * c / zero
	}
	return sum
}

// unsteady reports whether the velocities of the first third, the last third and the whole
// of the run differ by more than chance and by more than 3 per cent (judgement): a mount
// that tracked for a while, a kick.
func unsteady(points []Point, whole Line) bool {
	n := len(points) / 3
	if n < fewest {
		return false
	}
	first, err1 := fit(points[:n], fewest/2)
	last, err2 := fit(points[len(points)-n:], fewest/2)
	speed := r2.Norm(whole.Velocity)
	if err1 != nil || err2 != nil {
		// One third alone may be too short for a difference to be certain, but not if it
		// stands still while the whole moves far.
		return (err1 != nil) != (err2 != nil) && speed*whole.Seconds/3 > 3*leastTrip*max(1, min(first.RMS, last.RMS))
	}
	sigma := math.Hypot(first.Sigma, last.Sigma)
	mean := r2.Scale(0.5, r2.Add(first.Velocity, last.Velocity))
	apart := max(r2.Norm(r2.Sub(first.Velocity, last.Velocity)), r2.Norm(r2.Sub(mean, whole.Velocity)))
	return apart > 0.03*speed && apart > 5*sigma
}

func medianPoint(points []Point, of func(Point) r2.Vec) r2.Vec {
	x, y := make([]float64, len(points)), make([]float64, len(points))
	for i, p := range points {
		v := of(p)
		x[i], y[i] = v.X, v.Y
	}
	return r2.Vec{X: robust.MeanMedian(x), Y: robust.MeanMedian(y)}
}
