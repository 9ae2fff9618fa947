package measure

import (
	"image"
	"image/color"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

// drawn measures frames and returns the picture of them.
func drawn(t *testing.T, j *Job, files ...string) *image.RGBA {
	t.Helper()
	p := NewPicture(j, english)
	lines(t, j, files...)
	img, err := p.Draw()
	if err != nil {
		t.Fatal(err)
	}
	return img.(*image.RGBA)
}

// part returns how much of the circle about a place, picture px, has the colour.
func part(img *image.RGBA, at r2.Vec, radius float64, c color.RGBA) float64 {
	n := 0
	for k := range 360 {
		sin, cos := math.Sincos(float64(k) * math.Pi / 180)
		for d := -1.0; d <= 1; d++ {
			if like(img.RGBAAt(int(math.Round(at.X+(radius+d)*cos)), int(math.Round(at.Y+(radius+d)*sin))), c) {
				n++
				break
			}
		}
	}
	return float64(n) / 360
}

// like reports whether a colour is mostly that of an ink: edges are smoothed.
func like(a, b color.RGBA) bool {
	far := func(x, y uint8) float64 { return math.Abs(float64(x) - float64(y)) }
	return far(a.R, b.R)+far(a.G, b.G)+far(a.B, b.B) < 120
}

func TestOutlinesAreWhereTheTruthIs(t *testing.T) {
	is, j := known(t, "clean-01.png")
	img := drawn(t, &j, "clean-01.png")
	e := j.Telescope.Obstruction()
	offset := r2.Vec{X: is.Offset[0], Y: is.Offset[1]}
	// The ring's centre stands off the star by coma; the frame of 640 px
	// is shown as it is, a margin into the picture.
	ring := r2.Add(r2.Sub(r2.Vec{X: is.Star[0], Y: is.Star[1]}, r2.Scale(1/(1-e*e), offset)), r2.Vec{X: margin, Y: margin})
	for _, c := range []struct {
		what        string
		at          r2.Vec
		on, off     float64 // radii on the ticks, and beyond the edge that they begin at
		colour      color.RGBA
		least, most float64
	}{
		{"ring's", ring, is.Radius + 5, is.Radius - 4, ringInk, 0.08, 0.5},
		{"shadow's", r2.Add(ring, offset), e*is.Radius - 2, e*is.Radius + 4, shadowInk, 0.15, 0.8},
	} {
		if p := part(img, c.at, c.on, c.colour); p < c.least || p > c.most {
			t.Errorf("the %s ticks are on %.2f of their circle", c.what, p)
		}
		if p := part(img, c.at, c.off, c.colour); p > 0.02 {
			t.Errorf("the %s ticks are on %.2f of a circle on the wrong side of the edge", c.what, p)
		}
	}
	// Tolerance and lean are shown 5 times larger: 3.4 * 5 and 5.0 * 5 px in 41.
	allowed := j.Telescope.Tolerance() * j.Telescope.OffsetPerField() / j.PixelMM
	way := r2.Unit(offset)
	for _, side := range []float64{-0.4, 0.4} {
		p := r2.Add(ring, r2.Add(r2.Scale(5*allowed, way), r2.Scale(side*barLength, r2.Vec{X: -way.Y, Y: way.X})))
		if c := img.RGBAAt(int(math.Round(p.X)), int(math.Round(p.Y))); !like(c, allowedInk) {
			t.Errorf("at the tolerance there is %v, no bar", c)
		}
	}
	for _, times := range []float64{2, 4} {
		p := r2.Add(ring, r2.Scale(times, offset))
		if c := img.RGBAAt(int(math.Round(p.X)), int(math.Round(p.Y))); c != leanInk {
			t.Errorf("at %g times the lean there is %v, no arrow", times, c)
		}
	}
}

// Where nothing was found the frame is shown all the same, with the reason.
func TestPictureOfNothing(t *testing.T) {
	_, j := known(t, "clean-01.png")
	img := drawn(t, &j, "none-02.png")
	bright, letters := 0, 0
	for y := range img.Rect.Dy() {
		for x := range img.Rect.Dx() {
			switch c := img.RGBAAt(x, y); {
			case c == ringInk, c == shadowInk, c == leanInk, c == allowedInk:
				t.Fatalf("something is drawn at %d, %d", x, y)
			case c == ink:
				letters++
			case c.R == c.G && c.G == c.B && c.R > 180:
				bright++
			}
		}
	}
	if bright < 10 || letters < 300 {
		t.Errorf("%d bright pixels of the star, %d of letters", bright, letters)
	}
}

// A pair stands side by side, and the arrow in both is what both say together.
func TestProvePictureOfAPair(t *testing.T) {
	is, j := known(t, "pair-02-inside.png")
	p := NewPicture(&j, english)
	if err := j.Pair([]string{starsDir + is.Files[0]}, []string{starsDir + is.Files[1]}, func(Line) error { return nil }); err != nil {
		t.Fatal(err)
	}
	img, err := p.Draw()
	if err != nil {
		t.Fatal(err)
	}
	frame := p.panels[0].frame
	if w := img.Bounds().Dx(); w != 2*frame.Width+3*margin {
		t.Errorf("%d px wide", w)
	}
	for i, n := range p.panels {
		ring := r2.Vec{X: n.line.Ring.X + margin + float64(i*(frame.Width+margin)), Y: n.line.Ring.Y + margin}
		lean := r2.Scale(0.3*n.line.Ring.Radius/r2.Norm(r2.Vec(*p.joint.Coma)), r2.Vec(*p.joint.Coma))
		at := r2.Add(ring, lean)
		if c := img.At(int(math.Round(at.X)), int(math.Round(at.Y))); c != leanInk {
			t.Errorf("frame %d: no arrow along the coma, but %v", i, c)
		}
	}
}

func TestPictureWithoutFrames(t *testing.T) {
	_, j := known(t, "clean-01.png")
	if _, err := NewPicture(&j, english).Draw(); err == nil {
		t.Error("a picture of nothing")
	}
}

func TestHandyNumbers(t *testing.T) {
	for v, want := range map[float64]float64{0.3: 1, 1: 1, 2.5: 2, 9.9: 5, 10: 10, 45: 20, 50: 50, 999: 500} {
		if got := handy(v); got != want {
			t.Errorf("%g: %g, want %g", v, got, want)
		}
	}
}

func TestLinesAreBroken(t *testing.T) {
	text := "the star is a ring " + strings.Repeat("x", 45)
	for _, l := range wrap(text, 20*face.Advance) {
		if len(l) > 20 || l == "" {
			t.Errorf("%q", l)
		}
	}
	if got := strings.ReplaceAll(strings.Join(wrap(text, 140), ""), " ", ""); got != strings.ReplaceAll(text, " ", "") {
		t.Errorf("lost: %q", got)
	}
}
