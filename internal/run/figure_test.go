package run

import (
	"bytes"
	"context"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/measure"
	"halocue/internal/simulate/telescope"
	"halocue/vision/frame"
	"halocue/vision/ring"
)

// provingNight is a night with pixels in which little is left to do.
func provingNight(m telescope.Mirror) telescope.Night {
	n := telescope.Demo(4)
	n.Camera.Width, n.Camera.Height, n.Z = 480, 400, 2.6
	n.Sky.Flux = 1
	n.Sky.Flux = 0.5 / n.Level(n.Z)
	n.Axis, n.Star, n.XSec = r2.Vec{X: 0.9, Y: -0.8}, r2.Vec{}, r2.Vec{}
	n.Skill, n.Mirror, n.Cell.Locks = telescope.Deft, m, false
	return n
}

// A pinched mirror that is still warm is remarked after the words that it is true:
// through the air of the virtual telescope, with pixels. (That a good one is not is
// held by internal/measure, over thousands of skies.)
func TestProvePinchedMirrorIsRemarkedAtTheEnd(t *testing.T) {
	n := provingNight(telescope.Mirror{Astigmatism: r2.Vec{X: 0.2, Y: 0.15}, Spherical: 0.2})
	n.Seed = 7 // with 4 and 6 the coach takes both sides for one, and nothing is remarked
	src := telescope.NewSource(n, telescope.SourceOptions{FPS: 10})
	var out bytes.Buffer
	p := parts(t, dreamOf(n), &out)
	p.Source, p.Hands = src, src.Hear
	p.Figure = NewFigureMeter(ring.NewMeter(ring.Config{Telescope: n.Telescope, PixelMM: n.Camera.Pixel}), measure.Job{Telescope: n.Telescope, PixelMM: n.Camera.Pixel})
	p.Meter = p.Figure
	o, err := Frames(context.Background(), p, 10)
	if err != nil || o.Result != cue.Aligned {
		t.Fatalf("%+v, %v", o, err)
	}
	a, b := p.Figure.sides[0], p.Figure.sides[1]
	t.Logf("%d and %d frames, taken for %v and %v, %.0f s", len(a.frames), len(b.frames), a.votes, b.votes, o.Time)
	text := out.String()
	done := strings.Index(text, `"event":"say","action":"done"`)
	for _, code := range []string{"astigmatism", "spherical"} {
		if at := strings.Index(text, `"event":"say","action":"tell","code":"`+code+`"`); at < done {
			t.Errorf("%s at %d, done at %d", code, at, done)
		}
	}
}

// A racking through focus begins another side, and so does the way back; frames on
// the way are not looked at. Sides that the coach takes for one give no remark.
func TestFigureFollowsThroughFocus(t *testing.T) {
	n := provingNight(telescope.Mirror{})
	f := frame.New(0, 0)
	telescope.New(n).Render(f)
	g := NewFigureMeter(ring.NewMeter(ring.Config{Telescope: n.Telescope, PixelMM: n.Camera.Pixel}), measure.Job{Telescope: n.Telescope})
	dark := frame.New(f.Width, f.Height)
	dark.White = f.White
	rack := cue.Advice{Cues: []cue.Cue{{Action: cue.OtherSide}}}
	watch := func(f *frame.Frame) {
		for range 4 {
			g.Track(f)
		}
	}
	watch(f) // the first frame has none before it: 3 looks
	g.follow(rack)
	watch(f) // not begun yet
	watch(dark)
	watch(f)
	if a, b := len(g.sides[0].frames), len(g.sides[1].frames); a != 3 || b < 3 || b > 4 {
		t.Errorf("%d and %d frames", a, b)
	}
	watch(dark) // a cloud
	watch(f)
	if a := len(g.sides[0].frames); a != 3 {
		t.Errorf("after a cloud %d frames on the first side", a)
	}
	g.follow(rack)
	watch(dark)
	watch(f)
	if a := len(g.sides[0].frames); a < 6 {
		t.Errorf("back on the first side %d frames", a)
	}
	var none *FigureMeter // a night without one
	none.follow(cue.Advice{})
	if none.remarks() != nil {
		t.Error("a remark out of nothing")
	}
}

func TestFigureNeedsTwoSides(t *testing.T) {
	oval := ring.Figure{Fresnel: 60, Astigmatism: r2.Vec{X: 4}}
	turned := ring.Figure{Fresnel: 60, Astigmatism: r2.Vec{X: -4}}
	made := func(votes [2]string, n int, figures [2]ring.Figure) *FigureMeter {
		g := NewFigureMeter(nil, measure.Job{Telescope: provingNight(telescope.Mirror{}).Telescope})
		for i, k := range figures {
			for range n {
				g.sides[i].frames = append(g.sides[i].frames, measure.Measured{Measurement: ring.Measurement{Found: true, Ring: ring.Circle{Radius: 80}}, Figure: k})
				g.sides[i].votes[votes[i]]++
			}
		}
		return g
	}
	for _, c := range []struct {
		votes [2]string
		n     int
		want  int
	}{
		{[2]string{"inside", "outside"}, 60, 1}, {[2]string{"outside", "inside"}, 60, 1}, {[2]string{"", ""}, 60, 1},
		{[2]string{"", "inside"}, 60, 1},
		{[2]string{"inside", "inside"}, 60, 0}, {[2]string{"inside", "outside"}, figureLeast - 1, 0},
	} {
		if got := made(c.votes, c.n, [2]ring.Figure{oval, turned}).remarks(); len(got) != c.want {
			t.Errorf("%v, %d frames: %v", c.votes, c.n, got)
		}
	}
	if got := made([2]string{"inside", "outside"}, 60, [2]ring.Figure{oval, oval}).remarks(); len(got) > 0 {
		t.Errorf("a camera that sits askew: %v", got)
	}
}
