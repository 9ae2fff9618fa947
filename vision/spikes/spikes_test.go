package spikes

import (
	"image"
	_ "image/png"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/simulate/telescope"
	"halocue/vision/frame"
)

// focused is the virtual telescope in focus, its star burnt out, without air.
func focused(vanes int, bent ...float64) telescope.Night {
	n := telescope.Demo(1)
	n.Exact, n.Grid = true, 512
	n.Sky.Seeing, n.Mount = 0, telescope.Mount{}
	n.Camera.Width, n.Camera.Height, n.Camera.Bits, n.Camera.FullWell = 200, 180, 16, 40000
	n.Star, n.Axis, n.Z = r2.Vec{X: 0.02, Y: -0.01}, r2.Vec{X: 0.3}, 0
	n.Sky.Flux = 3e7
	n.Spider.Vanes, n.Spider.Angle, n.Spider.Bent = vanes, 0.4, bent
	return n
}

func shot(n telescope.Night) *frame.Frame {
	f := frame.New(0, 0)
	telescope.New(n).Render(f)
	return f
}

// lines checks number and angles of spikes, radians.
func lines(t *testing.T, r Result, want ...float64) {
	t.Helper()
	if !r.Found || len(r.Spikes) != len(want) {
		t.Fatalf("%d lines (%q), want %d: %+v", len(r.Spikes), r.Why, len(want), r.Spikes)
	}
	for i, k := range r.Spikes {
		if d := math.Remainder(k.Angle-want[i], math.Pi); math.Abs(d) > 0.004 {
			t.Errorf("line %d is at %.4f, want %.4f", i, k.Angle, want[i])
		}
	}
}

// A spike stands across its vane (Born & Wolf 8.5, from memory): four vanes in
// line make two lines, three make three, and each is one.
func TestSpikesStandAcrossTheirVanes(t *testing.T) {
	r := measure(shot(focused(4)))
	lines(t, r, 0.4, 0.4+math.Pi/2)
	for _, k := range r.Spikes {
		if k.Double || k.Limit > 1.5*math.Pi/180 || k.Light < 0.7 {
			t.Errorf("%+v", k)
		}
	}
	if r.Spikes[0].vane() != math.Mod(r.Spikes[0].Angle+math.Pi/2, math.Pi) {
		t.Errorf("vane at %g", r.Spikes[0].vane())
	}
	n := focused(3)
	lines(t, measure(shot(n)), 0.4+math.Pi/6, 0.4+math.Pi/2, 0.4+5*math.Pi/6)
}

// Two opposite vanes out of line by a known angle.
func TestSplitSpike(t *testing.T) {
	for _, bent := range []float64{0.025, 0.06} {
		n := focused(4, bent)
		n.Sky.Soft = 0.004 // air, nearly as wide as the spike itself
		r := measure(shot(n))
		lines(t, r, 0.4, 0.4+math.Pi/2+bent/2)
		single, double := r.Spikes[0], r.Spikes[1]
		if single.Double || !double.Double || math.Abs(double.Split-bent) > 0.004 {
			t.Errorf("split %.4f, want %.4f; the other %+v", double.Split, bent, single)
		}
		if s := max(math.Abs(double.Split-bent)/double.SplitSigma, math.Abs(single.Angle-0.4)/single.Sigma); s > 4 {
			t.Errorf("%.1f claimed sigmas off", s)
		}
	}
}

// Vanes that are far out of line make lines of their own.
func TestFarSplitIsTwoLines(t *testing.T) {
	lines(t, measure(shot(focused(4, 0.2))), 0.4, 0.4+math.Pi/2, 0.4+math.Pi/2+0.2)
}

// A burnt-out star that moves from frame to frame, through moving air, measured in a stack.
func TestStackInAir(t *testing.T) {
	n := focused(4, 0.06)
	n.Sky.Seeing, n.Sky.Wind = 2, 7
	tel := telescope.New(n)
	var s Stack
	f := frame.New(0, 0)
	r := rand.New(rand.NewPCG(1, 2))
	for k := range 6 {
		tel.Advance(0.7 * float64(k))
		tel.Push(r2.Vec{X: 0.02 * r.NormFloat64(), Y: 0.02 * r.NormFloat64()})
		tel.Render(f)
		if err := s.Add(f); err != nil {
			t.Fatal(err)
		}
	}
	m := s.Measure()
	if s.Frames() != 6 || len(m.Spikes) != 2 {
		t.Fatalf("%d frames, %+v", s.Frames(), m)
	}
	k := m.Spikes[1]
	t.Logf("%+v", m.Spikes)
	if !k.Double || math.Abs(k.Split-0.06) > 0.012 || m.Spikes[0].Double {
		t.Errorf("%+v", m.Spikes)
	}
	if k.SplitSigma < speckles/2.5 || m.Spikes[0].Limit < 4*speckles/2.5 {
		t.Errorf("six frames are too sure: %+v", m.Spikes)
	}
	if err := s.Add(frame.New(90, 90)); err == nil {
		t.Error("frames of another size are stacked")
	}
}

// Clips at the rim, but no vanes: no spikes, with any light.
func TestNoVanesNoSpikes(t *testing.T) {
	n := focused(0)
	for _, flux := range []float64{1e5, 3e6, 1e8} {
		n.Sky.Flux = flux
		if r := measure(shot(n)); r.Found || r.Why != NoSpikes && r.Why != Defocused {
			t.Errorf("flux %g: %q, %+v", flux, r.Why, r.Spikes)
		}
	}
}

// Frames of an independent program: rings, darkness, daylight, noise.
func TestNothingToMeasure(t *testing.T) {
	for file, want := range map[string]Why{
		"clean-01.png": Defocused, "none-00.png": Dark, "none-01.png": TooBright, "none-05.png": TooBright, "none-06.png": Defocused,
	} {
		if r := measure(load(t, file)); r.Found || r.Why != want {
			t.Errorf("%s: %q, want %q", file, r.Why, want)
		}
	}
	var s Stack
	if r := s.Measure(); r.Found || r.Why != Dark {
		t.Errorf("an empty stack: %+v", r)
	}
	if err := s.Add(load(t, "clean-01.png")); err != nil || s.Measure().Why != Defocused {
		t.Errorf("%v, %+v", err, s.Measure())
	}
}

func TestStarAtTheEdge(t *testing.T) {
	n := focused(4)
	n.Star = r2.Vec{X: 0.31}
	if r := measure(shot(n)); r.Why != AtEdge {
		t.Errorf("%q", r.Why)
	}
	if r := measure(frame.New(50, 400)); r.Why != AtEdge {
		t.Errorf("%q", r.Why)
	}
}

// Hot pixels, and noise of any kind, are neither star nor spikes.
func TestNoiseHasNoSpikes(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 30 {
		f := frame.New(160, 120)
		f.White = 255
		for i := range f.Pix {
			f.Pix[i] = float32(math.Max(0, math.Round(20+6*r.NormFloat64())))
		}
		f.Pix[60*160+80] = 255
		if m := measure(f); m.Found {
			t.Fatalf("%+v", m)
		}
		// A round star in it.
		for y := range 120 {
			for x := range 160 {
				d := math.Hypot(float64(x)-80.3, float64(y)-59.6)
				f.Pix[y*160+x] = float32(math.Min(255, float64(f.Pix[y*160+x])+900*math.Exp(-d*d/8)+400/(1+d*d)))
			}
		}
		if m := measure(f); m.Found {
			t.Fatalf("a round star: %+v", m)
		}
	}
}

func load(t *testing.T, file string) *frame.Frame {
	t.Helper()
	r, err := os.Open("../../testdata/stars/" + file)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	img, _, err := image.Decode(r)
	if err != nil {
		t.Fatal(err)
	}
	b := img.Bounds()
	f := frame.New(b.Dx(), b.Dy())
	f.White = 65535
	for y := range f.Height {
		for x := range f.Width {
			v, _, _, _ := img.At(x, y).RGBA()
			f.Pix[y*f.Width+x] = float32(v)
		}
	}
	return f
}
