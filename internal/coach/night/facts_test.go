package night

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/coach"
	"halocue/internal/cue"
	"halocue/internal/observe"
	"halocue/internal/optics"
)

func factsCoach(t *testing.T, pixel, unsure, secondary float64) *Coach {
	t.Helper()
	c, err := New(Settings{Settings: coach.Settings{Telescope: optics.Telescope{Aperture: 200, FocalLength: 1000, Secondary: secondary}}, PixelMM: pixel, PixelUnsure: unsure})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func remarked(c *Coach) (codes []string) {
	for _, cue := range c.noted.waiting {
		codes = append(codes, cue.Code)
	}
	return codes
}

// A pixel that is not sure holds the claim back; the fringes' word frees it.
func TestPixelIsConfirmed(t *testing.T) {
	c := factsCoach(t, 0.00375, 4, 50)
	sure := c.s.Telescope.Tolerance()
	if got := c.o.Tolerance; math.Abs(got-sure/4) > 1e-9 {
		t.Errorf("tolerance %.3f mm before the fringes are seen, want a quarter of %.3f", got, sure)
	}
	c.learn(observe.Facts{PixelMM: 0.00375, PixelSigma: 0.03})
	if got := c.o.Tolerance; !(got > 0.9*sure && got < sure) || remarked(c) != nil || c.awaiting() {
		t.Errorf("tolerance %.3f mm for %.3f; or a remark, or still waiting", got, sure)
	}
}

// A told pixel gives way to what two looks show; the person is told, and one look alone
// changes nothing.
func TestPixelToldWrong(t *testing.T) {
	c := factsCoach(t, 0.00375, 4, 50)
	c.learn(observe.Facts{PixelMM: 0.015, PixelSigma: 0.04})
	if c.o.Pixel != 0.00375 || remarked(c) != nil {
		t.Error("one look was enough")
	}
	c.bank.Shift(r2.Vec{X: 3}, 0) // believed in the old length
	c.learn(observe.Facts{PixelMM: 0.0149, PixelSigma: 0.04})
	if a, _ := c.bank.Axis(); r2.Norm(a) > 1e-9 {
		t.Errorf("what was believed in the old length stays: %v", a)
	}
	if c.o.Pixel != 0.0149 || !slices.Equal(remarked(c), []string{cue.CodePixelSize}) {
		t.Errorf("pixel %g after two looks that agree", c.o.Pixel)
	}
}

// Once a turn was made the old lengths stay, and the claim is held back instead.
func TestPixelLearntTooLate(t *testing.T) {
	c := factsCoach(t, 0.00375, 4, 50)
	c.screws.turns[1] = 0.1
	c.learn(observe.Facts{PixelMM: 0.0075, PixelSigma: 0.05})
	if want := c.s.Telescope.Tolerance() / 2.2; c.o.Pixel != 0.00375 || math.Abs(c.o.Tolerance-want) > 1e-9 {
		t.Errorf("pixel %g, tolerance %.3f for %.3f", c.o.Pixel, c.o.Tolerance, want)
	}
}

// The secondary is the star's where none was told and where what was told is wrong.
func TestSecondaryIsSeen(t *testing.T) {
	for _, x := range []struct {
		told, want float64
		said       []string
	}{{0, 82, nil}, {79, 79, nil}, {50, 82, []string{cue.CodeSecondarySize}}} {
		c := factsCoach(t, 0.00375, 0, x.told)
		c.learn(observe.Facts{Secondary: 0.41, SecondarySigma: 0.002}) // 79 mm is 0.395: by far enough of its sigma, and too little for a word
		if got := c.s.Telescope.Secondary; math.Abs(got-x.want) > 1e-9 || !slices.Equal(remarked(c), x.said) {
			t.Errorf("told %g: %.1f mm for %g", x.told, got, x.want)
		}
		if k := c.o.Telescope.OffsetPerField(); math.Abs(k-c.s.Telescope.OffsetPerField()) > 1e-12 {
			t.Errorf("told %g: offset per field %.5f", x.told, k)
		}
	}
}

// What a night has seen of the secondary serves the next, where nothing is told.
func TestSecondaryIsRemembered(t *testing.T) {
	for told, want := range map[float64]float64{0: 82, 50: 50} {
		c, err := New(Settings{
			Settings: coach.Settings{Telescope: optics.Telescope{Aperture: 200, FocalLength: 1000, Secondary: told}}, PixelMM: 0.00375,
			Memory: &coach.Memory{Secondary: 0.41, SecondarySigma: 0.003},
		})
		if err != nil {
			t.Fatal(err)
		}
		if got := c.s.Telescope.Secondary; math.Abs(got-want) > 1e-9 || remarked(c) != nil {
			t.Errorf("told %g: %g mm for %g", told, got, want)
		}
	}
}
