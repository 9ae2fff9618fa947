package measure

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/simulate/telescope"
	"halocue/vision/frame"
)

// atNight is a job at the virtual telescope: the files' names are defocuses, mm.
func atNight(change func(*telescope.Night)) (Job, telescope.Night) {
	n := telescope.Demo(3)
	n.Exact = true
	n.Sky.Seeing, n.Mount = 0, telescope.Mount{}
	n.Camera.Width, n.Camera.Height, n.Camera.Bits, n.Camera.FullWell = 320, 300, 16, 40000
	n.Star, n.Axis = r2.Vec{}, r2.Vec{X: 0.8, Y: -0.5}
	change(&n)
	j := Job{Telescope: n.Telescope, PixelMM: n.Camera.Pixel, English: english}
	j.Read = func(name string) (*frame.Frame, error) {
		n := n
		if _, err := fmt.Sscan(name, &n.Z); err != nil {
			return nil, err
		}
		n.Sky.Flux = 1
		n.Sky.Flux = 0.5 / n.Level(n.Z)
		f := frame.New(0, 0)
		telescope.New(n).Render(f)
		return f, nil
	}
	return j, n
}

// Two defocuses on one side separate coma from a silhouette that is off the middle; each
// alone is wrong.
func TestProveTwoDefocusesTellTheSilhouette(t *testing.T) {
	j, n := atNight(func(n *telescope.Night) { n.XSec = r2.Vec{X: 4, Y: 3} })
	var all []Line
	if err := j.Frames([]string{"1.6", "2.7"}, func(l Line) error { all = append(all, l); return nil }); err != nil {
		t.Fatal(err)
	}
	l := all[2]
	if !l.Combined || l.Coma == nil || l.Offset != nil || len(l.Flags) > 1 {
		t.Fatalf("%+v", l)
	}
	tr := telescope.New(n).Truth()
	want := n.Telescope.Offset(tr.Star, tr.Axis, r2.Vec{}, 0)
	off := func(v *XY) float64 {
		return r2.Norm(r2.Sub(r2.Vec(*v), r2.Scale(1/n.Camera.Pixel, want))) / j.allowed()
	}
	t.Logf("off by %.3f tolerances together, %.2f and %.2f alone", off(l.Coma), off(all[0].Offset), off(all[1].Offset))
	if off(l.Coma) > 0.1 || off(all[0].Offset) < 0.3 {
		t.Errorf("%.3f tolerances off together, %.3f alone", off(l.Coma), off(all[0].Offset))
	}
	within(t, "axis x", l.Axis.X, tr.Axis.X, 0.15)
	within(t, "axis y", l.Axis.Y, tr.Axis.Y, 0.15)
}

// A pinched mirror on both sides of focus, from the pixels to the note.
func TestProvePinchedMirrorIsNoted(t *testing.T) {
	j, n := atNight(func(n *telescope.Night) { n.Mirror.Astigmatism = r2.Vec{X: 0.25, Y: 0.25} })
	var l Line
	if err := j.Pair([]string{"-2.4"}, []string{"2.4"}, func(x Line) error { l = x; return nil }); err != nil {
		t.Fatal(err)
	}
	if got := codes(l); len(got) != 1 || got[0] != NoteAstigmatism {
		t.Errorf("%v", l.Notes)
	}
	within(t, "astigmatism", l.Figure.Astigmatism, r2.Norm(n.Mirror.Astigmatism), 0.03)
	tr := telescope.New(n).Truth()
	want := r2.Scale(1/n.Camera.Pixel, n.Telescope.Offset(tr.Star, tr.Axis, r2.Vec{}, 0))
	within(t, "coma", r2.Norm(r2.Sub(r2.Vec(*l.Coma), want))/j.allowed(), 0, 0.1)
	if math.Abs(math.Remainder(l.Figure.Angle-112.5, 180)) > 3 {
		t.Errorf("the long axis is at %.1f degrees", l.Figure.Angle)
	}
}
