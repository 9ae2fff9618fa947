package night

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/estimate"
)

// notes is what is still to be remarked, and what was remarked already.
type notes struct {
	waiting  []cue.Cue
	once     map[string]bool // what is not remarked a second time
	look     float64         // when a long look was last announced
	knocked  float64         // when a knock was last remarked
	strayed  r2.Vec          // the star's way that no hand made, mm
	strayedT float64
}

// first reports whether a remark is due for the first time.
func (n *notes) first(remark string, due bool) bool {
	if !due || n.once[remark] {
		return false
	}
	n.once[remark] = true
	return true
}

func (n *notes) add(c cue.Cue) { n.waiting = append(n.waiting, c) }

// knock adds up what moved the star while no hand should; a large jump is said.
func (c *Coach) knock(d r2.Vec) {
	n := &c.noted
	if c.t-n.strayedT > 1 {
		n.strayed = r2.Vec{}
	}
	n.strayed, n.strayedT = r2.Add(n.strayed, d), c.t
	if r2.Norm(n.strayed) > 0.2 && c.t-n.knocked > 10 {
		n.knocked = c.t
		n.add(cue.Cue{Code: cue.CodeKicked, Action: cue.Wait, Reason: "the star jumped and no hand should be at work"})
	}
}

// disagree remarks, once, that the two sides of focus do not agree.
func (c *Coach) disagree() {
	if c.noted.first(cue.CodeSides, c.bank.SidesDiffer()) {
		c.noted.add(cue.Cue{Code: cue.CodeSides, Action: cue.Warn,
			Reason: fmt.Sprintf("a side of focus seen again is not as it was: the axis point is unsure by %.2f tolerances", math.Sqrt(c.bank.SagVariance())/c.o.Tolerance)})
	}
}

// lockPulled remarks a lock that pulls the mirror.
func (c *Coach) lockPulled(k int) {
	if p := r2.Norm(c.locks.pull[k]); c.noted.first("lock "+c.s.Knobs[k].Name, p > 0.3*c.o.Tolerance) {
		c.noted.add(cue.Cue{Code: cue.CodeLockPulls, Action: cue.Warn, Reason: fmt.Sprintf("it moved the axis point by %.2f tolerances", p/c.o.Tolerance),
			Args: map[string]any{"name": c.s.Knobs[k].Name, "tolerances": p / c.o.Tolerance}})
	}
}

// screwSpent remarks a screw that has gone far one way.
func (c *Coach) screwSpent(k int) {
	if c.noted.first("screw "+c.s.Knobs[k].Name, c.screws.spent(k)) {
		c.noted.add(cue.Cue{Code: cue.CodeEndOfScrew, Action: cue.Warn, Reason: "the other two will do its part",
			Args: map[string]any{"name": c.s.Knobs[k].Name, "turns": c.screws.turns[k]}})
	}
}

// flop compares the axis point, once it is known and before any turn is made,
// with where it was proven the last time.
func (c *Coach) flop(a r2.Vec, err float64) {
	if c.s.Memory == nil || c.s.Memory.Axis == nil || !c.noted.first(cue.CodeFlop, c.bank.SeenBoth(estimate.LeastLooks) >= 0.9) {
		return
	}
	if c.screws.turns != [3]float64{} {
		return
	}
	if d := r2.Norm(r2.Sub(a, *c.s.Memory.Axis)); d > 0.25*c.o.Tolerance+3*err {
		c.noted.add(cue.Cue{Code: cue.CodeFlop, Action: cue.Warn, Reason: "not where it was when it was last proven",
			Args: map[string]any{"tolerances": d / c.o.Tolerance}})
	}
}

// longestSaid is the longest look that is told in seconds: the guess is rough.
const longestSaid = 60

// lookLong says that the silence is a look, when it has become long, and how long
// the air makes it, seconds, where that is worth a number.
func (c *Coach) lookLong(more float64) []cue.Cue {
	quiet := c.t - math.Max(math.Max(c.hand.Since, c.sideT), c.noted.look)
	if quiet < 6 || c.t-c.noted.look < 20 {
		return nil
	}
	c.noted.look = c.t
	say := cue.Cue{Code: cue.CodeLongLook, Action: cue.Tell, Reason: "the air is restless; a longer look tells more"}
	if more = 5 * math.Ceil(more/5); more > 0 && more <= longestSaid {
		say.Args = map[string]any{"seconds": more}
	}
	return []cue.Cue{say}
}
