package telescope

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/optics"
)

// still is a night without air, wind, drift, play or mistakes.
func still() Night {
	n := Demo(1)
	n.Sky.Seeing = 0
	n.Mount = Mount{}
	n.Cell.Backlash = 0
	n.Skill = Deft
	return n
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if math.Abs(got-want) > within || math.IsNaN(got) {
		t.Errorf("%s: got %.5g, want %.5g within %.2g", what, got, want, within)
	}
}

// By the plane through the three screws' ends: a screw 0.25 mm forward on a circle of 80 mm at
// f = 1000 moves the star by 4.16666 mm and the axis by 2.08333, away from it.
func TestKnobMovesStarTwiceTheAxis(t *testing.T) {
	n := still()
	n.Telescope = optics.Telescope{Aperture: 200, FocalLength: 1000, Secondary: 50}
	n.Cell = Cell{Kind: Screws, Knobs: []cue.Knob{{Name: "top", Clock: 12}, {Name: "right-hand", Clock: 4}, {Name: "left-hand", Clock: 8}}, Pitch: 1, BoltRadius: 80}
	n.Camera.Rotation, n.Camera.Mirrored = 0, false
	tel := New(n)
	before := tel.Truth()
	tel.Turn(0, 0.25)
	after := tel.Truth()
	star, axis := r2.Sub(after.Star, before.Star), r2.Sub(after.Axis, before.Axis)
	// Seen from behind, the screw at 12 is up: away from it is down, +y in the frame.
	near(t, "star x", star.X, 0, 1e-9)
	near(t, "star y", star.Y, 4.16666, 1e-4)
	near(t, "axis y", axis.Y, 2.08333, 1e-4)
	tel.Turn(1, 0.25)
	tel.Turn(2, 0.25)
	near(t, "all three turned alike move nothing", r2.Norm(r2.Sub(tel.Truth().Star, before.Star)), 0, 1e-9)
}

func TestTighteningPullsASpringCellBack(t *testing.T) {
	for kind, forward := range map[string]bool{Spring: false, PushPull: false, Screws: true} {
		if got := (Cell{Kind: kind, Pitch: 1}).Forward() > 0; got != forward {
			t.Errorf("%s: forward %v", kind, got)
		}
	}
}

func TestMirroredCameraFlipsHandedness(t *testing.T) {
	turn := func(c Camera) float64 { // sense in which 12, 4, 8 o'clock run in the frame
		a, b := c.fromBehind(1, 12), c.fromBehind(1, 4)
		return a.X*b.Y - a.Y*b.X
	}
	for _, rot := range []float64{0, 1, -2.5} {
		if turn(Camera{Rotation: rot}) < 0 || turn(Camera{Rotation: rot, Mirrored: true}) > 0 {
			t.Errorf("rotation %g: wrong handedness", rot)
		}
	}
}

func TestBacklashIsLostOnReversalOnly(t *testing.T) {
	n := still()
	n.Cell.Backlash = 0.05
	tel := New(n)
	tel.Turn(0, 0.2)
	a := tel.Truth().Axis
	tel.Turn(0, 0.1)
	forward := r2.Norm(r2.Sub(tel.Truth().Axis, a))
	a = tel.Truth().Axis
	tel.Turn(0, -0.1)
	back := r2.Norm(r2.Sub(tel.Truth().Axis, a))
	near(t, "back / forward", back/forward, 0.5, 1e-9)
}

func TestSnugLockHoldsItsKnobAndLeansTheMirror(t *testing.T) {
	n := still()
	n.Cell.Locks, n.Cell.LockShift = true, 0.3
	tel := New(n)
	near(t, "axis at the start", r2.Norm(r2.Sub(tel.Truth().Axis, n.Axis)), 0, 1e-12)
	tel.Turn(0, 0.5)
	near(t, "a locked knob", r2.Norm(r2.Sub(tel.Truth().Axis, n.Axis)), 0, 1e-12)
	tel.Lock(0, 0)
	free := tel.Truth().Axis
	if r2.Norm(r2.Sub(free, n.Axis)) < 0.01 {
		t.Error("releasing a lock did not move the mirror")
	}
	tel.Turn(0, 0.1)
	if r2.Norm(r2.Sub(tel.Truth().Axis, free)) < 0.1 {
		t.Error("a free knob did not move the mirror")
	}
}

// By the sidereal rate: at declination 0 and f = 1000 a resting mount lets the
// star drift by 72.9 um a second.
func TestDriftMovesTheStarNotTheAxis(t *testing.T) {
	n := still()
	n.Mount.Drift = r2.Vec{X: 1000 * 7.2921159e-5}
	tel := New(n)
	tel.Advance(10)
	tr := tel.Truth()
	near(t, "star", tr.Star.X-n.Star.X, 0.729, 1e-3)
	near(t, "axis", r2.Norm(r2.Sub(tr.Axis, n.Axis)), 0, 1e-12)
}
