package measure

import (
	"math"
	"slices"
	"strings"
	"testing"

	"halocue/vision/ring"
)

// Where the secondary was not told, or told wrong, and the pixel was joined from four, a
// frame's line has what the star shows, the axis point by it, and a remark on what was
// told wrong.
func TestWhatWasToldWrong(t *testing.T)      { whatWasToldWrong(t, 1) }
func TestProveWhatWasToldWrong(t *testing.T) { whatWasToldWrong(t, 5) }

func whatWasToldWrong(t *testing.T, most int) {
	is, true_ := known(t, "clean-01.png")
	eps := true_.Telescope.Secondary / true_.Telescope.Aperture
	for _, c := range []struct {
		secondary, pixel float64 // factors, 0 for not told
		notes            []string
		flag             ring.Flag
	}{
		{1.5, 1, []string{NoteSecondary}, ring.OneSide},
		{1, 1, nil, ring.OneSide},
		{0, 1, nil, ring.OneSide},
		{1, 0, nil, ring.OneSide},
		{1, 4, []string{NotePixel}, ring.PixelWrong},
	}[:most] {
		j := true_
		j.Telescope.Secondary *= c.secondary
		j.PixelMM *= c.pixel
		l := lines(t, &j, "clean-01.png")[0]
		var notes []string
		for _, n := range l.Notes {
			notes = append(notes, n.Code)
			if !strings.Contains(n.Text, "the settings say") {
				t.Errorf("%s says %q", n.Code, n.Text)
			}
		}
		if !slices.Equal(notes, c.notes) || !slices.Contains(l.Flags, c.flag) {
			t.Errorf("%+v: notes %q, flags %q", c, notes, l.Flags)
		}
		if l.Secondary == nil || !(math.Abs(*l.Secondary-eps) < 5**l.SecondarySigma) || !(*l.SecondarySigma < 0.01) {
			t.Errorf("%+v: secondary %v for %.3f", c, l.Secondary, eps)
		}
		within(t, "pixel", *l.PixelUM, 1000*true_.PixelMM, 5**l.PixelSigma)
		within(t, "axis x", l.Axis.X, is.Axis[0], 0.1) // 4 % by the colour of the fringes
		within(t, "axis y", l.Axis.Y, is.Axis[1], 0.1)
	}
}
