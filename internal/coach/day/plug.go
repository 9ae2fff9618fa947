package day

import (
	"cmp"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/stat"

	"halocue/internal/cue"
	"halocue/internal/hands"
)

type plugPhase int

const (
	plugUntouched plugPhase = iota
	plugAsked
	plugAllowed // the hole is allowed for, by one half turn
	plugProved  // the half turn after that changed nothing
	plugStays   // nobody turned it
)

// plug is the half turn of the plug that tells how far the peephole is off.
//
// The peephole stands e off the focuser's axis, the same way in the camera's own
// picture however the plug is turned; the mirror's axis passes the focuser's axis
// at a. The reflection stands at -2 (a - e) from the mark. After the plug, camera
// and all, has turned, the picture has turned by R: -2 (R a - e). The two give both.
//
// Something else that is taken for the reflection gives both too, and wrong: so a
// claim rests on a turn of the plug that changes nothing. With a hole in the middle
// that is the first; else there is another after the knobs have been turned, by a quarter:
// what is taken for the reflection in one of two places only is found out in a third.
type plug struct {
	phase  plugPhase
	rounds int       // half turns that were asked for
	odd    int       // of those that could not be believed
	before r2.Vec    // the reflection's place from the mark, mm
	size   float64   // its radius when it was first asked for, mm
	around []float64 // how the surroundings looked
	angle  float64   // of the picture since then
	steady float64   // since when it has been that
}

func (c *Coach) askPlug() []cue.Cue {
	if c.plug.rounds >= mostRounds {
		return c.finish(cue.GivenUp, "the reflection stands elsewhere after each half turn of the plug", NextPlug)
	}
	y, _ := c.large.track.now(2 * look)
	c.plug = plug{phase: plugAsked, rounds: c.plug.rounds + 1, odd: c.plug.odd,
		size: cmp.Or(c.plug.size, c.spotSize), before: r2.Add(y, c.target), around: append([]float64(nil), c.down.Around...)}
	c.hand = hand{Task: hands.Task{Kind: hands.Plugging, Phase: hands.Settled, Since: c.t}}
	c.stage = "plug"
	if c.plug.rounds > 1 {
		return []cue.Cue{{Code: CodeQuarterTurn, Action: cue.HalfTurn, Turns: 0.25, Reason: "what has been allowed for must hold in a third place too"}}
	}
	return []cue.Cue{{Code: CodeHalfTurn, Action: cue.HalfTurn, Turns: 0.5, Reason: "what stays when the plug is turned is the mirror's, what turns with it is the peephole's"}}
}

// plugBusy waits for the plug to be turned and to rest.
func (c *Coach) plugBusy() ([]cue.Cue, bool) {
	h := &c.hand
	late := c.t - h.SpokenAt
	angle, sure := rotation(c.plug.around, c.down.Around)
	if !c.visible || !sure || math.Abs(math.Remainder(angle-c.plug.angle, 2*math.Pi)) > 0.05 {
		c.plug.angle, c.plug.steady = angle, c.t
	}
	if math.Abs(angle) > math.Pi/3 && c.t-c.plug.steady > 2*look && c.t-c.spotted < 0.3 && 1.5*c.spotSD < c.large.goal && c.large.track.rested() > look {
		c.plugTurned(angle)
		if r2.Norm(c.target)/2 > mostOff || unlike(c.plug.size, c.spotSize) {
			return c.plugOdd(), true
		}
		if c.plug.phase == plugProved {
			return nil, true
		}
		return c.peephole(), true
	}
	if late > plugPatience {
		c.stage = "primary"
		c.hand.Enter(hands.Settled, c.t)
		if sure && math.Abs(angle) > math.Pi/3 { // turned, and the spot is lost: the screws answer another way now
			c.large.screws.turn(angle)
			c.small.screws.turn(angle)
			c.plug.phase = plugUntouched
			return c.unspotted(), true
		}
		c.plug.phase = plugStays
		return []cue.Cue{{Code: CodePlugStays, Action: cue.Warn, Reason: "the picture has not turned"}}, true
	}
	return nil, true
}

// mostOff is how far a hole may seem off the middle, mm: one that was drilled with
// care is within one. Much farther, and something else was taken for its reflection before
// or after. Common practice, no source.
const mostOff = 2.5

// mostRounds is how many turns of the plug are asked for: one tells the hole, one proves it,
// and two are for clumsy hands.
const mostRounds = 4

// plugOdd forgets a half turn that cannot be believed: it is asked for once more, and
// then it is told that it does not do.
func (c *Coach) plugOdd() []cue.Cue {
	c.target = r2.Vec{}
	c.plug.phase = plugUntouched
	said := []cue.Cue{{Code: CodeNoSpot, Action: cue.Warn, Reason: "the hole cannot be so far off: what is taken for the dark spot is something else"}}
	if c.plug.odd++; c.plug.odd > 1 {
		return c.finish(cue.GivenUp, "two half turns of the plug that cannot be believed", NextHole)
	}
	return said
}

// plugTurned works out how far the peephole is off. Where the reflection stands on the
// mark by what was known of that before, and by what is known of it now, it is proved.
func (c *Coach) plugTurned(angle float64) {
	y, _ := c.large.track.now(look)
	after := r2.Add(y, c.target)
	// before - after = -2 (1 - R) a. (1 - R) is 2 sin(angle/2) times a rotation by
	// angle/2 - 90 degrees.
	d := r2.Sub(c.plug.before, after)
	sin := 2 * math.Sin(angle/2)
	twoA := r2.Scale(-1/sin, r2.Rotate(d, math.Pi/2-angle/2, r2.Vec{}))
	target := r2.Add(c.plug.before, twoA)
	c.plug.phase = plugAllowed
	if c.near(1) && c.within(r2.Sub(after, target), 1) {
		c.plug.phase = plugProved
	}
	c.target = target
	c.large.screws.turn(angle)
	c.small.screws.turn(angle)
	c.large.track.forget()
	c.small.track.forget()
	c.stage = "primary"
	c.hand.Enter(hands.Settled, c.t)
}

// peephole says how far the peephole is off, where that matters.
func (c *Coach) peephole() []cue.Cue {
	off := r2.Norm(c.target) / 2
	if off < 0.25*c.large.goal {
		return nil
	}
	return []cue.Cue{{Code: CodePeephole, Action: cue.Tell, Args: map[string]any{"mm": off}, Reason: fmt.Sprintf("the peephole is %.1f mm off the middle", off)}}
}

// rotation returns by which angle the surroundings have turned, radians clockwise
// in the picture, -pi to pi; sure is false where they do not tell.
func rotation(before, after []float64) (angle float64, sure bool) {
	n := len(before)
	if n == 0 || len(after) != n {
		return 0, false
	}
	like := make([]float64, n)
	for shift := range n {
		like[shift] = correlation(before, after, shift)
	}
	at := floats.MaxIdx(like)
	second := -1.0
	for shift, l := range like {
		if far := (shift - at + n) % n; min(far, n-far) > n/9 {
			second = math.Max(second, l)
		}
	}
	// The peak's place between the steps.
	a, b, d := like[(at+n-1)%n], like[at], like[(at+1)%n]
	frac := 0.0
	if den := a - 2*b + d; den < 0 {
		frac = 0.5 * (a - d) / den
	}
	angle = math.Remainder(2*math.Pi*(float64(at)+frac)/float64(n), 2*math.Pi)
	return angle, like[at] > 0.6 && like[at]-second > 0.05
}

// correlation returns how alike the one is to the other turned by so many steps, -1 to 1,
// over what is in sight in both.
func correlation(before, after []float64, shift int) float64 {
	n := len(before)
	var a, b []float64
	for i, x := range before {
		if y := after[(i+shift)%n]; x >= 0 && y >= 0 {
			a, b = append(a, x), append(b, y)
		}
	}
	if r := stat.Correlation(a, b, nil); 3*len(a) >= n && !math.IsNaN(r) {
		return r
	}
	return -1
}
