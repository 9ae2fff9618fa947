package estimate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"
)

// coordinate is one coordinate, x or y, of a filter's state: of the axis point relative to
// the target, mm on the sensor, and of the silhouette, the secondary's own displacement in
// the pupil together with the tube axis's, mm; with variances and covariance, mm^2.
type coordinate struct {
	axis, silhouette               float64
	axisVar, silhouetteVar, covVar float64
}

// filter is a Kalman filter that takes the side of focus for granted. Then the offset d is
// linear in axis point a and silhouette q (optics.Telescope.Offset), s being the star:
//
//	d = -K (s - a) - (z/f) (q - m (2a - s)),  z = side * 2 F R
//
// Neither the model nor the noise mixes x with y, so each is a filter of its own.
type filter struct {
	side float64 // +1 outside focus, -1 inside
	x, y coordinate
}

// response is how the offset answers to axis point, silhouette and star, mm per mm.
type response struct{ axis, silhouette, star float64 }

// predicted returns the offset that is expected with the star at star, mm, and the variance
// of that, mm^2.
func (c *coordinate) predicted(g response, star float64) (offset, variance float64) {
	return g.axis*c.axis + g.silhouette*c.silhouette + g.star*star,
		g.axis*g.axis*c.axisVar + 2*g.axis*g.silhouette*c.covVar + g.silhouette*g.silhouette*c.silhouetteVar
}

// update is the Kalman step for an offset that is nu more than was predicted, with a
// variance of its own, mm^2; in Joseph's form, which keeps variances above 0. It returns
// the innovation's square over its variance, and that variance.
func (c *coordinate) update(g response, nu, variance float64) (square, innovationVar float64) {
	axis := g.axis*c.axisVar + g.silhouette*c.covVar
	silhouette := g.axis*c.covVar + g.silhouette*c.silhouetteVar
	innovationVar = g.axis*axis + g.silhouette*silhouette + variance
	inverse := 1 / innovationVar
	gain := [2]float64{axis * inverse, silhouette * inverse}
	c.axis += gain[0] * nu
	c.silhouette += gain[1] * nu
	stays := [2][2]float64{{1 - gain[0]*g.axis, -gain[0] * g.silhouette}, {-gain[1] * g.axis, 1 - gain[1]*g.silhouette}}
	p := [2][2]float64{{c.axisVar, c.covVar}, {c.covVar, c.silhouetteVar}}
	after := func(i, j int) float64 { // of (stays p stays') + gain variance gain'
		left := [2]float64{stays[i][0]*p[0][0] + stays[i][1]*p[1][0], stays[i][0]*p[0][1] + stays[i][1]*p[1][1]}
		return left[0]*stays[j][0] + left[1]*stays[j][1] + gain[i]*variance*gain[j]
	}
	c.axisVar, c.covVar, c.silhouetteVar = after(0, 0), (after(0, 1)+after(1, 0))/2, after(1, 1)
	return nu * inverse * nu, innovationVar
}

func (f *filter) axis() r2.Vec { return r2.Vec{X: f.x.axis, Y: f.y.axis} }

// axisSD returns the largest one-sigma of the axis point in any direction, mm.
func (f *filter) axisSD() float64 { return math.Sqrt(math.Max(f.x.axisVar, f.y.axisVar)) }

// inflate widens axis point and silhouette by a one-sigma of so much per coordinate, mm.
func (f *filter) inflate(axis, silhouette float64) {
	for _, c := range []*coordinate{&f.x, &f.y} {
		c.axisVar += axis * axis
		c.silhouetteVar += silhouette * silhouette
	}
}

// hypothesis is one assumption about the side of focus that the star is on now, with the
// estimate that follows from it.
type hypothesis struct {
	filter
	logW    float64         // logarithm of its weight, relative
	seen    [2]float64      // independent frames of each side since the mirror moved
	ever    [2]float64      // and since the night began
	at      [2]r2.Vec       // mean star position of what was seen, per side
	samples []defocusSample // the ring sizes that were seen
	visit   *visit          // to this side, or nil
}

func (h *hypothesis) copy() *hypothesis {
	c := *h
	c.samples = slices.Clone(h.samples)
	if h.visit != nil {
		v := *h.visit
		c.visit = &v
	}
	return &c
}

// defocusSample is what was seen at one ring size on one side of focus.
type defocusSample struct {
	side, radius float64
	n            float64 // independent frames
}

// sample adds n independent frames to what was seen at this ring size, mm, with the star
// at star.
func (h *hypothesis) sample(radius, n float64, star r2.Vec) {
	i := sideIndex(h.side)
	h.seen[i] += n
	h.ever[i] += n
	part := n / h.seen[i]
	h.at[i] = r2.Add(r2.Scale(1-part, h.at[i]), r2.Scale(part, star))
	for i := range h.samples {
		if r := &h.samples[i]; r.side == h.side && math.Abs(radius-r.radius) < 0.1*r.radius {
			r.n += n
			return
		}
	}
	h.samples = append(h.samples, defocusSample{h.side, radius, n})
}

// radiusRatio returns the ratio of the largest to the smallest ring that was well seen
// on one side of focus, >= 1.
func (h *hypothesis) radiusRatio() float64 {
	most := 1.0
	for _, a := range h.samples {
		for _, b := range h.samples {
			if a.side == b.side && a.n >= LeastLooks && b.n >= LeastLooks {
				most = math.Max(most, a.radius/b.radius)
			}
		}
	}
	return most
}

// bothSeen reports whether frames has at least n of both sides of focus.
func bothSeen(frames [2]float64, n float64) bool { return frames[0] >= n && frames[1] >= n }

func sideIndex(side float64) int {
	if side > 0 {
		return 1
	}
	return 0
}
