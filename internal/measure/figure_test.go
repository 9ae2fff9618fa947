package measure

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
	"halocue/vision/ring"
)

var newtonian = Job{
	Telescope: optics.Telescope{Aperture: 200, FocalLength: 1000, Secondary: 50},
	PixelMM:   0.00375,
}

// mirrored makes frames at a mirror of the given faults, waves RMS, on one side of
// focus (+1 outside) with a ring of radius px, through air of r0 mm (Noll 1976) by
// a camera that makes everything oval by askew radii.
type mirrored struct {
	astig     r2.Vec
	spherical float64
	askew     r2.Vec
	radius    float64
	r0        float64
}

func (is mirrored) frames(r *rand.Rand, side float64, n int) (all []Measured) {
	const light = 0.003
	air := math.Pow(newtonian.Telescope.Aperture/is.r0, 5.0/6) / (2 * math.Pi)
	for range n {
		g := ring.Figure{Fresnel: is.radius / newtonian.pixelsPerFresnel()}
		astig, spherical := g.AstigmatismWaves(1, is.radius), g.SphericalWaves(1, is.radius)
		gauss := func(sd float64) r2.Vec { return r2.Vec{X: sd * r.NormFloat64(), Y: sd * r.NormFloat64()} }
		waves := r2.Add(r2.Scale(-side, is.astig), gauss(math.Hypot(light, air*math.Sqrt(0.02322))))
		g.Astigmatism = r2.Add(r2.Scale(1/astig, waves), r2.Scale(is.radius, is.askew))
		g.AstigmatismSigma = r2.Vec{X: light / astig, Y: light / astig}
		g.Spherical = (-side*is.spherical + gauss(math.Hypot(light, air*math.Sqrt(0.00245))).X) / spherical
		g.SphericalSigma = light / spherical
		all = append(all, Measured{ring.Measurement{Found: true, Ring: ring.Circle{Radius: is.radius}}, g})
	}
	return all
}

func codes(l Line) (c []string) {
	for _, n := range l.Notes {
		c = append(c, n.Code)
	}
	return c
}

// both returns what n frames inside and n outside say.
func (is mirrored) both(r *rand.Rand, n int) Line {
	var l Line
	in, out := is, is
	out.radius *= 1.2
	newtonian.figuredPair(&l, in.frames(r, -1, n), out.frames(r, 1, n))
	return l
}

func TestNoNoteOfWhatTheAirDoes(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for _, r0 := range []float64{35, 60, 150, 1e5} {
		for _, n := range []int{1, 2, 5, 20, 100} {
			for range 400 {
				is := mirrored{radius: 80, r0: r0}
				var one Line
				newtonian.figured(&one, is.frames(r, 1, n)...)
				if c := append(codes(one), codes(is.both(r, n))...); len(c) > 0 {
					t.Errorf("r0 %g, %d frames: %v of a perfect mirror", r0, n, c)
				}
			}
		}
	}
}

// An aberration is reported by its name and with its size, and only from both sides for
// certain.
func TestFaultsAreNamed(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	cases := []struct {
		name       string
		is         mirrored
		pair, side string
	}{
		{"astigmatism", mirrored{astig: r2.Vec{X: -0.06, Y: 0.08}, radius: 80, r0: 80}, NoteAstigmatism, NoteOval},
		{"a camera askew", mirrored{askew: r2.Vec{X: 0.03}, radius: 80, r0: 80}, NoteAskew, NoteOval},
		{"spherical aberration", mirrored{spherical: -0.08, radius: 80, r0: 80}, NoteSpherical, NoteSpherical},
	}
	for _, c := range cases {
		l := c.is.both(r, 30)
		if got := codes(l); len(got) != 1 || got[0] != c.pair {
			t.Errorf("%s: both sides say %v", c.name, got)
		}
		var one Line
		newtonian.figured(&one, c.is.frames(r, 1, 30)...)
		if got := codes(one); len(got) != 1 || got[0] != c.side {
			t.Errorf("%s: one side says %v", c.name, got)
		}
		within(t, c.name, l.Figure.Astigmatism, r2.Norm(c.is.astig), 4*l.Figure.AstigSigma)
		within(t, c.name, l.Figure.Spherical, c.is.spherical, 4*l.Figure.SphericalSigma)
	}
	// The long axis is that of the outside picture, where the wave's hollow is.
	l := cases[0].is.both(r, 200)
	want := math.Atan2(-cases[0].is.astig.Y, -cases[0].is.astig.X) / 2 * 180 / math.Pi
	if d := math.Remainder(l.Figure.Angle-want, 180); math.Abs(d) > 5 {
		t.Errorf("the long axis is at %.0f degrees, want %.0f", l.Figure.Angle, want)
	}
}

// A single look may have been taken through any air: what it shows is not the
// mirror's fault unless it is gross.
func TestOneLookIsNoProof(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 10))
	var few, gross Line
	newtonian.figured(&few, mirrored{astig: r2.Vec{X: 0.15}, radius: 80, r0: 1e5}.frames(r, 1, 1)...)
	newtonian.figured(&gross, mirrored{astig: r2.Vec{X: 0.8}, radius: 80, r0: 1e5}.frames(r, 1, 1)...)
	if len(few.Notes) > 0 || len(gross.Notes) != 1 || few.Figure == nil || few.Figure.AstigSigma < 0.05 {
		t.Errorf("%v, %v, %+v", few.Notes, gross.Notes, few.Figure)
	}
}

// Slow air makes neighbours alike: they count for less.
func TestFramesThatAreAlikeCountLess(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	var v, light []r2.Vec
	var now r2.Vec
	for range 60 {
		now = r2.Add(r2.Scale(0.9, now), r2.Vec{X: 0.02 * r.NormFloat64(), Y: 0.02 * r.NormFloat64()})
		v, light = append(v, now), append(light, r2.Vec{})
	}
	slow := newtonian.averaged(v, light, 0.02322).sigma
	r.Shuffle(len(v), func(i, k int) { v[i], v[k] = v[k], v[i] })
	if quick := newtonian.averaged(v, light, 0.02322).sigma; !(slow > 1.8*quick) {
		t.Errorf("sigma %.4f in order, %.4f shuffled", slow, quick)
	}
}

func TestSeveralDefocuses(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 14))
	coma, delta := r2.Vec{X: 2, Y: -1}, r2.Vec{X: -0.01, Y: 0.03}
	var pull float64
	const times = 300
	for range times {
		var frames []Measured
		for i := range 12 {
			radius := 50 + 10*float64(i%5)
			o := r2.Add(coma, r2.Scale(radius, delta))
			o = r2.Add(o, r2.Vec{X: 0.05 * r.NormFloat64(), Y: 0.1 * r.NormFloat64()})
			frames = append(frames, Measured{Measurement: ring.Measurement{
				Found: true, Ring: ring.Circle{Radius: radius}, Offset: o, Sigma: r2.Vec{X: 0.02, Y: 0.1},
			}})
		}
		c, s, sigma, ok := newtonian.defocuses(frames)
		if !ok {
			t.Fatal("not seen as several defocuses")
		}
		pull += (math.Pow((c.X-coma.X)/sigma.X, 2) + math.Pow((c.Y-coma.Y)/sigma.Y, 2)) / 2 / times
		within(t, "silhouette", r2.Norm(r2.Sub(s, delta)), 0, 0.01)
	}
	if p := math.Sqrt(pull); !(p > 0.8 && p < 1.2) {
		t.Errorf("error over claimed sigma is %.2f", p)
	}
	one := Measured{Measurement: ring.Measurement{Found: true, Ring: ring.Circle{Radius: 80}}}
	if _, _, _, ok := newtonian.defocuses([]Measured{one, one, {}}); ok {
		t.Error("rings of one size taken for several defocuses")
	}
}
