// Package spikes measures the diffraction spikes of a star in focus: how many,
// which way, and whether each is one line or two.
//
// A straight vane of the spider makes a spike across its own direction, to both
// sides of the star, whatever its place in the pupil (Fraunhofer diffraction of a
// slit by Babinet's principle: Born & Wolf 8.5 and 8.3, from memory). Two vanes in
// line with each other make one and the same; three vanes 120 degrees apart make
// six spikes.
package spikes

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/frame"
)

// Why is the reason why there is no result. The empty Why means that there is one.
type Why string

// The reasons. Other programs read them.
const (
	Dark      Why = "dark"       // no star
	TooBright Why = "too-bright" // the frame is flooded
	Defocused Why = "defocused"  // a ring or a disc, not a star in focus
	AtEdge    Why = "edge"       // the star is too near the frame's edge
	NoSpikes  Why = "no-spikes"  // a star without spikes that stand out
)

// Spike is a line through the star: two spikes, one to each side. Angles are
// radians from x (right) toward y (down).
type Spike struct {
	Angle, Sigma float64 // of the line, 0 to pi, and its one-sigma

	// Split is the angle between the two lines of which the spike is made, where it
	// is not one (Double); SplitSigma its one-sigma. Limit is what a split could be
	// at most without being seen, where it is one.
	Double            bool
	Split, SplitSigma float64
	Limit             float64

	Light float64 // compared with the brightest spike, 0 to 1
}

// vane returns the direction of the vane that makes the spike, 0 to pi.
func (s Spike) vane() float64 { return math.Mod(s.Angle+math.Pi/2, math.Pi) }

// Result is what one frame, or a stack of them, says.
type Result struct {
	Found  bool
	Why    Why     // set exactly where Found is false
	Star   r2.Vec  // px
	Spikes []Spike // by angle
}

// near reports whether the spike is one of these once more: the flank of a broad one.
func (s Spike) near(those []Spike) bool {
	return slices.ContainsFunc(those, func(o Spike) bool {
		return math.Abs(math.Remainder(s.Angle-o.Angle, math.Pi)) < 0.8*apart*2*math.Pi/dirs
	})
}

const (
	dirs      = 720 // directions of the whole turn that are looked at
	smallest  = 5   // px from the star that are always left out
	coreTimes = 2.5 // core radii that are left out
	leastRoom = 30  // px from the star to the frame's edge
	maxLines  = 6
)

// measure measures the spikes of the brightest star in the frame.
func measure(f *frame.Frame) Result {
	s, why := find(f)
	if why != "" {
		return Result{Why: why, Star: s.at}
	}
	out := Result{Star: s.at}
	p := around(f, s)
	for _, angle := range p.lines() {
		if k, ok := p.fit(f, angle); ok && !k.near(out.Spikes) {
			out.Spikes = append(out.Spikes, k)
		}
	}
	slices.SortFunc(out.Spikes, func(a, b Spike) int { return cmp.Compare(a.Angle, b.Angle) })
	if out.Found = len(out.Spikes) > 0; !out.Found {
		out.Why = NoSpikes
		return out
	}
	most := 0.0
	for _, k := range out.Spikes {
		most = max(most, k.Light)
	}
	for i := range out.Spikes {
		out.Spikes[i].Light /= most
	}
	return out
}
