package ring

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/frame"
	"halocue/internal/virtual"
)

// quiet is a night without air or wind, drawn by diffraction.
func quiet(z float64) virtual.Night {
	n := virtual.Demo(1)
	n.Exact = true
	n.Sky.Seeing, n.Mount = 0, virtual.Mount{}
	n.Camera.Width, n.Camera.Height, n.Camera.Bits, n.Camera.FullWell = 320, 300, 16, 40000
	n.Star, n.Axis, n.Z = r2.Vec{}, r2.Vec{X: 1, Y: 0.5}, z
	n.Sky.Flux = 1
	n.Sky.Flux = 0.5 / n.Level(z)
	return n
}

func studyNight(t *testing.T, n virtual.Night) (Measurement, Figure) {
	t.Helper()
	var f frame.Frame
	virtual.New(n).Render(&f)
	m, g, ok := NewMeter(Config{Telescope: n.Telescope, PixelMM: n.Camera.Pixel}).Study(&f)
	if !ok {
		t.Fatalf("no figure: %+v", m)
	}
	return m, g
}

// A mirror of known astigmatism and spherical aberration, Zernike terms 5, 6 and
// 11 of Noll 1976: what is found is what was put in, and it turns with the side of
// focus.
func TestFigureOfAKnownMirror(t *testing.T) {
	if testing.Short() {
		t.Skip("takes minutes under the race detector, which finds nothing in one goroutine")
	}
	mirror := virtual.Mirror{Astigmatism: r2.Vec{X: -0.03, Y: 0.08}, Spherical: -0.06}
	for _, side := range []float64{-1, 1} {
		n := quiet(2.4 * side)
		n.Mirror = mirror
		m, g := studyNight(t, n)
		r := m.Ring.Radius
		near := func(what string, got, want float64) {
			t.Helper()
			if !(math.Abs(got-want) < 0.008) {
				t.Errorf("side %+.0f: %s is %.4f waves, want %.4f", side, what, got, want)
			}
		}
		near("astigmatism along x", g.Astigmatism(g.Oval.X, r), -side*mirror.Astigmatism.X)
		near("astigmatism askew", g.Astigmatism(g.Oval.Y, r), -side*mirror.Astigmatism.Y)
		near("spherical aberration", g.Spherical(g.Sphere, r), -side*mirror.Spherical)
		t.Logf("side %+.0f: %.4f %.4f, %.4f", side, g.Astigmatism(g.Oval.X, r), g.Astigmatism(g.Oval.Y, r), g.Spherical(g.Sphere, r))
	}
}

// Three vanes 120 degrees apart, outside focus, where the pupil stands on its head.
func TestVanesAreFound(t *testing.T) {
	if testing.Short() {
		t.Skip("takes minutes under the race detector, which finds nothing in one goroutine")
	}
	n := quiet(2.4)
	n.Spider.Vanes, n.Spider.Angle, n.Spider.Thickness = 3, 0.7, 1.2
	_, g := studyNight(t, n)
	if len(g.Vanes) != 3 {
		t.Fatalf("%d vanes: %v", len(g.Vanes), g.Vanes)
	}
	for k := range 3 {
		want := 0.7 + math.Pi + 2*math.Pi/3*float64(k)
		best := math.Inf(1)
		for _, v := range g.Vanes {
			best = min(best, math.Abs(math.Remainder(v.Angle-want, 2*math.Pi)))
			if w := n.Spider.Thickness / (n.Telescope.Aperture / 2); math.Abs(v.Width/w-1) > 0.1 {
				t.Errorf("a width of %.4f radii, want %.4f", v.Width, w)
			}
		}
		if !(best < 0.01) {
			t.Errorf("no vane within %.3f of %.3f radians: %v", best, want, g.Vanes)
		}
	}
}

// Frames of an independent program, whose mirrors are perfect: testdata/stars.
func TestPerfectMirrorsShowNoFigure(t *testing.T) {
	if testing.Short() {
		t.Skip("takes minutes under the race detector, which finds nothing in one goroutine")
	}
	for _, s := range []star{stars(t, "clean")[1], stars(t, "faint")[2], stars(t, "clutter")[0]} {
		m, g, ok := s.meter().Study(load(t, s.Files[0]))
		if !ok {
			t.Errorf("%s: no figure", s.Files[0])
			continue
		}
		r := m.Ring.Radius
		if a, b := g.Astigmatism(r2.Norm(g.Oval), r), g.Spherical(g.Sphere, r); a > 0.01 || math.Abs(b) > 0.01 {
			t.Errorf("%s: %.4f waves of astigmatism, %.4f of spherical aberration", s.Files[0], a, b)
		}
	}
}

func TestNoFigureWithoutARing(t *testing.T) {
	for _, s := range stars(t, "none") {
		if m, g, ok := s.meter().Study(load(t, s.Files[0])); ok || m.Found || g.Fresnel != 0 {
			t.Errorf("%s: %+v", s.Files[0], g)
		}
	}
	m := stars(t, "bright")[0].meter()
	if _, _, ok := m.Study(load(t, stars(t, "bright")[0].Files[0])); ok || m.look != nil {
		t.Error("a burnt-out ring has a figure")
	}
}

// A glance at outlines sees, more coarsely, what the fit sees; a pair of them takes
// out the error of the shadow's size.
func TestGlance(t *testing.T) {
	var sphere [2]float64
	for i, side := range []float64{-1, 1} {
		n := quiet(3 * side)
		n.Mirror = virtual.Mirror{Astigmatism: r2.Vec{X: -0.03, Y: 0.08}, Spherical: 0.1}
		var f frame.Frame
		virtual.New(n).Render(&f)
		m := NewMeter(Config{Telescope: n.Telescope, PixelMM: n.Camera.Pixel})
		r := m.Track(&f)
		g, ok := m.Glance(&f, r)
		if !ok {
			t.Fatalf("nothing seen: %+v", r)
		}
		x, y := -side*g.Astigmatism(g.Oval.X, r.Ring.Radius), -side*g.Astigmatism(g.Oval.Y, r.Ring.Radius)
		if math.Abs(x+0.03) > 0.02 || math.Abs(y-0.08) > 0.02 {
			t.Errorf("side %+.0f: astigmatism %.3f, %.3f waves", side, x, y)
		}
		sphere[i] = -side * g.Spherical(g.Sphere, r.Ring.Radius)
		r.Flags = append(r.Flags, PartOff)
		if _, ok := m.Glance(&f, r); ok {
			t.Error("a ring that is cut off has a figure")
		}
	}
	if mean := (sphere[0] + sphere[1]) / 2; math.Abs(mean-0.1) > 0.03 {
		t.Errorf("spherical aberration %.3f waves: %.3f", mean, sphere)
	}
}
