package run

import (
	"bytes"
	"encoding/json"
	"image"
	"image/png"
	"io"
	"math"
	"strings"
	"testing"

	"halocue/vision/frame"
	"halocue/vision/ring"
)

// paint draws an even ring on a sky of 20.
func paint(f *frame.Frame, m ring.Measurement, light float32) {
	for i := range f.Pix {
		x, y := float64(i%f.Width), float64(i/f.Width)
		f.Pix[i] = 20
		if math.Hypot(x-m.Ring.X, y-m.Ring.Y) < m.Ring.Radius && math.Hypot(x-m.Shadow.X, y-m.Shadow.Y) > m.Shadow.Radius {
			f.Pix[i] += light
		}
	}
}

func atRest(x, y, radius float64) ring.Measurement {
	return ring.Measurement{Found: true, Ring: ring.Circle{X: x, Y: y, Radius: radius}, Shadow: ring.Circle{X: x + 0.1*radius, Y: y, Radius: 0.3 * radius}}
}

// The marks lie on what they mark, and a dim large ring comes out as a bright small one.
func TestPicturesAreStretchedAlike(t *testing.T) {
	for name, c := range map[string]struct {
		m     ring.Measurement
		light float32
	}{"small": {atRest(200, 140, 40), 3000}, "large": {atRest(190, 150, 130), 15}, "at the edge": {atRest(30, 150, 60), 90}} {
		f := frame.New(400, 300)
		paint(f, c.m, c.light)
		var a album
		a.see(0, f, c.m)
		a.see(0.1, f, c.m)
		s := a.turn()
		if s == nil || s.t != 0.1 {
			t.Fatalf("%s: no picture of a ring that stands still: %+v", name, s)
		}
		p, m := s.picture()
		if side := p.Bounds().Dx(); side > pictureSide || side != p.Bounds().Dy() {
			t.Errorf("%s: a picture of %v", name, p.Bounds())
		}
		grey := func(at mark, x float64) uint8 { // x radii to the right
			return p.GrayAt(int(math.Round(at.X+x*at.Radius)), int(math.Round(at.Y))).Y
		}
		for what, g := range map[string][2]uint8{
			"shadow": {grey(m.Shadow, 0), 0}, "shadow's right": {grey(m.Shadow, 0.9), 0}, "ring by the shadow": {grey(m.Shadow, 1.15), 255},
			"ring's right": {grey(m.Ring, 0.96), 255}, "sky": {grey(m.Ring, 1.06), 0},
		} {
			if math.Abs(float64(g[0])-float64(g[1])) > 30 {
				t.Errorf("%s: %s is %d, want %d", name, what, g[0], g[1])
			}
		}
	}
}

// shelf is a Recorder that has the pictures.
type shelf struct {
	at    map[string]float64
	bad   bool
	facts int
}

func (s *shelf) Record(any) error { s.facts++; return nil }

func (s *shelf) Picture(name string, t float64, _ any, data []byte) error {
	p, err := png.Decode(bytes.NewReader(data))
	s.bad = s.bad || err != nil || p.Bounds().Dx() < 20 || len(data) > 40000
	if _, gray := p.(*image.Gray); !gray {
		s.bad = true
	}
	s.at[name] = t
	return nil
}

// lit is a dream with light in it.
type lit struct{ *dream }

func (l lit) Track(f *frame.Frame) ring.Measurement {
	m := l.dream.Track(f)
	f.Pix = make([]float32, f.Width*f.Height)
	return m
}

func TestBeforeAndAfterAreKept(t *testing.T) {
	d := newDream(3)
	var out bytes.Buffer
	p, s := parts(t, d, &out), &shelf{at: map[string]float64{}}
	p.Meter, p.Recorder = lit{d}, s
	if _, err := Frames(t.Context(), p, d.fps); err != nil {
		t.Fatal(err)
	}
	first, last := -1.0, -1.0
	for lines := json.NewDecoder(strings.NewReader(out.String())); ; {
		var e struct {
			T             float64
			Event, Action string
		}
		if err := lines.Decode(&e); err == io.EOF {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		if e.Event == "say" && e.Action == "turn" {
			if last = e.T; first < 0 {
				first = e.T
			}
		}
	}
	before, ok1 := s.at["before"]
	after, ok2 := s.at["after"]
	if !ok1 || !ok2 || s.bad || before > first || first-before > 3 || after <= last {
		t.Errorf("pictures at %v (bad: %v), turns from %g to %g", s.at, s.bad, first, last)
	}
}
