package measure

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/frame"
	"halocue/vision/ring"
)

// leastRadiusRatio is the ratio of the largest ring to the smallest from which frames count
// as several defocuses (judgement).
const leastRadiusRatio = 1.25

// defocuses joins frames of one pointing with rings of several sizes on one side of focus.
// The offset is a straight line over the ring's radius R, offset = coma + silhouette * R,
// whose value at R = 0 is coma alone. The silhouette is in ring radii, as this side shows
// it. ok is false where the rings are all alike.
func (j *Job) defocuses(frames []Measured) (coma, silhouette, sigma r2.Vec, ok bool) {
	var found []Measured
	least, most := math.Inf(1), 0.0
	for _, l := range frames {
		if l.Found {
			found = append(found, l)
			least, most = min(least, l.Ring.Radius), max(most, l.Ring.Radius)
		}
	}
	if len(found) < 2 || most < leastRadiusRatio*least {
		return coma, silhouette, sigma, false
	}
	// With gonum's stat.LinearRegression, which gives no sigma, it is as many lines.
	axis := func(of func(Measured) (d, s float64)) (at0, slope, sd float64) {
		var w, x, xx, y, xy float64
		for _, l := range found {
			d, s := of(l)
			k, r := 1/(s*s), l.Ring.Radius
			w, x, xx, y, xy = w+k, x+k*r, xx+k*r*r, y+k*d, xy+k*r*d
		}
		det := w*xx - x*x
		at0, slope = (xx*y-x*xy)/det, (w*xy-x*y)/det
		sd = math.Sqrt(xx / det)
		if n := len(found) - 2; n > 0 { // the residuals include the air
			chi := 0.0
			for _, l := range found {
				d, s := of(l)
				e := (d - at0 - slope*l.Ring.Radius) / s
				chi += e * e / float64(n)
			}
			sd *= math.Sqrt(max(1, chi))
		}
		return at0, slope, sd
	}
	coma.X, silhouette.X, sigma.X = axis(func(l Measured) (float64, float64) { return l.Offset.X, l.Sigma.X })
	coma.Y, silhouette.Y, sigma.Y = axis(func(l Measured) (float64, float64) { return l.Offset.Y, l.Sigma.Y })
	return coma, silhouette, sigma, true
}

// severalDefocuses turns the line of several frames into one of several defocuses, if they
// are that.
func (j *Job) severalDefocuses(l *Line, f *frame.Frame, frames []Measured) bool {
	coma, silhouette, sigma, ok := j.defocuses(frames)
	if !ok {
		return false
	}
	var star r2.Vec
	n := 0.0
	for _, k := range frames {
		if k.Found {
			star = r2.Add(star, j.star(f, k.Ring, coma))
			n++
		}
	}
	// No ring and no shadow: there are several.
	l.Ring, l.Shadow, l.Offset = nil, nil, nil
	l.Coma, l.Delta, l.Sigma = xy(coma), xy(silhouette), xy(sigma)
	l.Flags = slices.DeleteFunc(slices.Clone(l.Flags), func(f ring.Flag) bool { return f == ring.OneSide })
	j.meaning(l, r2.Scale(1/n, star), coma)
	return true
}
