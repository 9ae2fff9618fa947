package day

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/observe"
	"halocue/vision/robust"
)

// finish ends the day; next is what to do then, where it was given up.
func (c *Coach) finish(result, reason, next string) []cue.Cue {
	say := cue.Cue{Code: CodeDone, Action: cue.Done, Result: result, Reason: reason}
	if next != "" {
		say.Args = map[string]any{"next": next}
	}
	return []cue.Cue{say}
}

// claim ends the day with what is proved: no more than the mark on the spot, where
// the plug was not turned.
func (c *Coach) claim(reason string) []cue.Cue {
	if c.plug.phase != plugProved {
		return c.finish(Unchecked, reason+", and the hole was not checked", "")
	}
	return c.finish(Rough, reason+", and half a turn of the plug changed nothing", "")
}

// hinders is what to do about the last trouble that was told of, or "".
func (c *Coach) hinders() string {
	if c.t-c.said[c.last] > 2*againAfter {
		return ""
	}
	return map[string]string{
		CodeDim: NextLight, CodeNoMirror: NextMirror, CodeNoRim: NextRim, CodeTooSmall: NextSecondary, CodeScrewLimit: NextSecondary,
		CodeNoMark: NextMark, CodeNoSpot: NextHole,
	}[c.last]
}

// sizes are the latest radii, mm, of what was taken for the reflection: where the mark
// overlaps it, other dark places stand in for it in a frame or two.
type sizes struct {
	list []float64
	odd  int // radii in a row that were unlike the others
}

// usual takes in a radius, and reports whether it is like the others.
func (s *sizes) usual(r float64) bool {
	const enough, most = 5, 25
	if len(s.list) >= enough {
		if unlike(robust.Median(slices.Clone(s.list)), r) {
			if s.odd++; s.odd < most {
				return false
			}
			s.list = nil // it is there for good
		}
	}
	s.odd = 0
	if s.list = append(s.list, r); len(s.list) > most {
		s.list = s.list[1:]
	}
	return true
}

// unlike reports whether two radii are not of the same dark spot.
func unlike(a, b float64) bool { return a > 0 && b > 0 && (a > 1.5*b || b > 1.5*a) }

// Off the focuser's middle: a hole off the middle of the plug, which is at a third of the way to the
// secondary or less, looks like less than three millimetres and a twentieth. Common practice, no source.
const (
	leastShift = 3.0  // mm at the secondary
	shareShift = 0.05 // of its width
	shiftSeen  = 10   // frames
)

// focuser averages where the secondary stands in the focuser's opening, while nothing
// moves. Where it cuts the mirror off its own edge is not all in sight.
func (c *Coach) focuser(d observe.Down) {
	if !d.Whole || c.small.track.rested() < 0.2 {
		c.shift = shift{}
	}
	if d.FocuserRadius > 0 && c.shift.n < shiftSeen {
		mm := secondary(c.s.Telescope) / 2 / d.SecondaryRadius
		c.shift.sum = r2.Add(c.shift.sum, r2.Scale(mm, r2.Sub(d.Secondary, d.Focuser)))
		c.shift.n++
	}
}

// shift is where the secondary stands from the middle of the focuser.
type shift struct {
	sum r2.Vec // mm
	n   int
}

// offCentre says that the secondary is not under the focuser, if that is beyond doubt.
func (c *Coach) offCentre() []cue.Cue {
	if c.shift.n < 3 {
		return nil
	}
	off := r2.Norm(c.shift.sum) / float64(c.shift.n)
	if off < math.Max(leastShift, shareShift*secondary(c.s.Telescope)) {
		return nil
	}
	return []cue.Cue{{Code: CodeOffCentre, Action: cue.Tell, Args: map[string]any{"mm": off},
		Reason: "the secondary is not in the middle of the focuser"}}
}
