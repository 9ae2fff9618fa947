package night

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/coach"
	"halocue/internal/estimate"
	"halocue/internal/optics"
)

var f5inch8 = optics.Telescope{Aperture: 200, FocalLength: 1000, Secondary: 50, SecondaryDistance: 800}

// jumped returns where a camera of given rotation, perhaps mirrored, sees the star
// go when a knob is tightened by one unit.
func jumped(rotation float64, mirrored bool, k int) r2.Vec {
	a := [3]float64{12, 4, 8}[k] * math.Pi / 6
	if mirrored {
		a = -a
	}
	s, c := math.Sincos(a + rotation)
	return r2.Vec{X: c, Y: s}
}

// What one night taught the next begins with, not too surely.
func TestMemoryComesBack(t *testing.T) {
	c := mustNew(t, Settings{Settings: coach.Settings{Telescope: f5inch8}, PixelMM: 0.005})
	if _, ok := c.Memory(); ok {
		t.Fatal("a night that has seen nothing teaches something")
	}
	for k := range 3 {
		c.knobs.Observe(estimate.Turn{Knob: k, Sign: 1, Turns: 0.1, Jump: r2.Scale(1.6, jumped(2, true, k)), Jitter: 0.01})
	}
	m, ok := c.Memory()
	if !ok || m.Mirrored < 0.95 || math.Abs(math.Remainder(m.Rotation-2, 2*math.Pi)) > 0.05 {
		t.Fatalf("learned %+v", m)
	}
	next := mustNew(t, Settings{Settings: coach.Settings{Telescope: f5inch8}, PixelMM: 0.005, Memory: &m})
	known := estimate.KnownKnobs(next.knobs.Orientations())
	if !known[0] || !known[1] || !known[2] {
		t.Errorf("the next night knows %v", known)
	}
	if s := next.knobs.PerTurnSD(0); s <= c.knobs.PerTurnSD(0) {
		t.Errorf("the next night is as sure of the gain (%.2f) as the last (%.2f)", s, c.knobs.PerTurnSD(0))
	}
	// The camera was turned by 90 degrees since: two turns put it right.
	for _, k := range []int{0, 1} {
		next.knobs.Observe(estimate.Turn{Knob: k, Sign: 1, Turns: 0.1, Jump: r2.Scale(1.6, jumped(2+math.Pi/2, true, k)), Jitter: 0.01})
	}
	if rot := next.knobs.Memory().Rotation; math.Abs(math.Remainder(rot-2-math.Pi/2, 2*math.Pi)) > 0.1 {
		t.Errorf("a camera turned since is still taken for %.2f", rot)
	}
}

func mustNew(t *testing.T, s Settings) *Coach {
	t.Helper()
	c, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	return c
}
