package ring

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/simulate/telescope"
	"halocue/vision/frame"
)

// quiet is a night without air or wind, drawn by diffraction.
func quiet(z float64) telescope.Night {
	n := telescope.Demo(1)
	n.Exact = true
	n.Sky.Seeing, n.Mount = 0, telescope.Mount{}
	n.Camera.Width, n.Camera.Height, n.Camera.Bits, n.Camera.FullWell = 320, 300, 16, 40000
	n.Star, n.Axis, n.Z = r2.Vec{}, r2.Vec{X: 1, Y: 0.5}, z
	n.Sky.Flux = 1
	n.Sky.Flux = 0.5 / n.Level(z)
	return n
}

func studyNight(t *testing.T, n telescope.Night) (Measurement, Figure) {
	t.Helper()
	var f frame.Frame
	telescope.New(n).Render(&f)
	m, g, ok := NewMeter(Config{Telescope: n.Telescope, PixelMM: n.Camera.Pixel}).MeasureAberrations(&f)
	if !ok {
		t.Fatalf("no figure: %+v", m)
	}
	return m, g
}

// A mirror of known astigmatism and spherical aberration, Zernike terms 5, 6 and
// 11 of Noll 1976: what is found is what was put in, and it turns with the side of
// focus.
func TestFigureOfAKnownMirror(t *testing.T)      { figureOfAKnownMirror(t, 1) }
func TestProveFigureOfAKnownMirror(t *testing.T) { figureOfAKnownMirror(t, -1, 1) }

func figureOfAKnownMirror(t *testing.T, sides ...float64) {
	mirror := telescope.Mirror{Astigmatism: r2.Vec{X: -0.03, Y: 0.08}, Spherical: -0.06}
	for _, side := range sides {
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
		near("astigmatism along x", g.AstigmatismWaves(g.Astigmatism.X, r), -side*mirror.Astigmatism.X)
		near("astigmatism askew", g.AstigmatismWaves(g.Astigmatism.Y, r), -side*mirror.Astigmatism.Y)
		near("spherical aberration", g.SphericalWaves(g.Spherical, r), -side*mirror.Spherical)
		t.Logf("side %+.0f: %.4f %.4f, %.4f", side, g.AstigmatismWaves(g.Astigmatism.X, r), g.AstigmatismWaves(g.Astigmatism.Y, r), g.SphericalWaves(g.Spherical, r))
	}
}

// Three vanes 120 degrees apart, outside focus, where the pupil stands on its head.
func TestVanesAreFound(t *testing.T) {
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
func TestProvePerfectMirrorsShowNoFigure(t *testing.T) {
	for _, s := range []star{stars(t, "clean")[1], stars(t, "faint")[2], stars(t, "clutter")[0]} {
		m, g, ok := s.meter().MeasureAberrations(load(t, s.Files[0]))
		if !ok {
			t.Errorf("%s: no figure", s.Files[0])
			continue
		}
		r := m.Ring.Radius
		if a, b := g.AstigmatismWaves(r2.Norm(g.Astigmatism), r), g.SphericalWaves(g.Spherical, r); a > 0.01 || math.Abs(b) > 0.01 {
			t.Errorf("%s: %.4f waves of astigmatism, %.4f of spherical aberration", s.Files[0], a, b)
		}
	}
}

func TestNoFigureWithoutARing(t *testing.T) {
	for _, s := range stars(t, "none") {
		if m, g, ok := s.meter().MeasureAberrations(load(t, s.Files[0])); ok || m.Found || g.Fresnel != 0 {
			t.Errorf("%s: %+v", s.Files[0], g)
		}
	}
	m := stars(t, "bright")[0].meter()
	if _, _, ok := m.MeasureAberrations(load(t, stars(t, "bright")[0].Files[0])); ok || m.inspect != nil {
		t.Error("a burnt-out ring has a figure")
	}
}

// A glance at outlines sees, more coarsely, what the fit sees; a pair of them takes
// out the error of the shadow's size.
func TestQuickAberrations(t *testing.T) {
	var spherical [2]float64
	for i, side := range []float64{-1, 1} {
		n := quiet(3 * side)
		n.Mirror = telescope.Mirror{Astigmatism: r2.Vec{X: -0.03, Y: 0.08}, Spherical: 0.1}
		var f frame.Frame
		telescope.New(n).Render(&f)
		m := NewMeter(Config{Telescope: n.Telescope, PixelMM: n.Camera.Pixel})
		r := m.Track(&f)
		g, ok := m.QuickAberrations(&f, r)
		if !ok {
			t.Fatalf("nothing seen: %+v", r)
		}
		x, y := -side*g.AstigmatismWaves(g.Astigmatism.X, r.Ring.Radius), -side*g.AstigmatismWaves(g.Astigmatism.Y, r.Ring.Radius)
		if math.Abs(x+0.03) > 0.02 || math.Abs(y-0.08) > 0.02 {
			t.Errorf("side %+.0f: astigmatism %.3f, %.3f waves", side, x, y)
		}
		spherical[i] = -side * g.SphericalWaves(g.Spherical, r.Ring.Radius)
		r.Flags = append(r.Flags, PartOff)
		if _, ok := m.QuickAberrations(&f, r); ok {
			t.Error("a ring that is cut off has a figure")
		}
	}
	if mean := (spherical[0] + spherical[1]) / 2; math.Abs(mean-0.1) > 0.03 {
		t.Errorf("spherical aberration %.3f waves: %.3f", mean, spherical)
	}
}
