package exposure

import (
	"math"
	"math/rand/v2"
	"testing"

	"halocue/vision/frame"
)

// camera answers a setting with a level, late as real ones do: light is light
// times exposure times 2^(gain/10), over a pedestal, clipped; the air flickers.
type camera struct {
	light float64
	delay []Setting // settings not yet in effect
	rng   *rand.Rand
}

func (c *camera) level(s Setting) float64 {
	c.delay = append(c.delay, s)
	if len(c.delay) > settle {
		c.delay = c.delay[1:]
	}
	s = c.delay[0]
	v := 0.03 + c.light*s.Seconds*math.Exp2(s.Gain/10)*math.Exp(0.15*c.rng.NormFloat64())
	return min(v, 1)
}

var webcam = Limits{Seconds: Range{1e-4, 0.1}, Gain: Range{0, 60}}

// Whatever the star, and wherever it starts, it comes to rest within the band.
func TestComesToRest(t *testing.T) {
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 1))
		// Light such that a setting within the limits exists, over 5 decades.
		light := math.Pow(10, -1+4.8*rng.Float64())
		c := New(webcam, Setting{Seconds: math.Pow(10, -4+3*rng.Float64()), Gain: 60 * rng.Float64()})
		cam := &camera{light: light, rng: rng}
		late := 0
		for i := range 600 {
			if c.Step(cam.level(c.Setting())) == Changed && i > 250 {
				late++
			}
		}
		// One correction where the flicker has it rest at the band's edge.
		if s := c.Setting(); late > 1 {
			t.Errorf("seed %d: %d changes after frame 250, setting %+v, light %g", seed, late, s, light)
		}
		sum := 0.0
		for range 50 {
			sum += cam.level(c.Setting()) / 50
		}
		if sum < low*0.8 || sum > high*1.1 {
			t.Errorf("seed %d: rests at a level of %.2f, setting %+v, light %g", seed, sum, c.Setting(), light)
		}
	}
}

// A burnt-out ring is answered within a few frames, not after a window's worth.
func TestBurntOutIsUrgent(t *testing.T) {
	c := New(webcam, Setting{Seconds: 0.1})
	for i := range settle + urgent {
		if v := c.Step(1); (v == Changed) != (i == settle+urgent-1) {
			t.Errorf("frame %d: %s", i, v)
		}
	}
	if s := c.Setting().Seconds; s > 0.05 {
		t.Errorf("exposure still %g s", s)
	}
}

// One flash is no reason to change anything.
func TestOneFlash(t *testing.T) {
	c := New(webcam, Setting{Seconds: 0.01})
	for i := range 100 {
		level := 0.6
		if i%7 == 0 {
			level = 1
		}
		if v := c.Step(level); v == Changed {
			t.Fatalf("frame %d: changed to %+v", i, c.Setting())
		}
	}
}

// Light before gain on the way up, gain before light on the way down.
func TestOrder(t *testing.T) {
	run := func(c *Controller, level float64) {
		for range settle + agree*window {
			if c.Step(level) == Changed {
				return
			}
		}
		t.Errorf("no change at a level of %g", level)
	}
	c := New(webcam, Setting{Seconds: 0.05, Gain: 15})
	run(c, 0.2)
	if c.Setting() != (Setting{0.1, 15}) {
		t.Errorf("darker: %+v", c.Setting())
	}
	run(c, 0.2)
	if c.Setting() != (Setting{0.1, 22.5}) {
		t.Errorf("darker still: %+v", c.Setting())
	}
	for range 3 {
		run(c, 0.9)
	}
	if c.Setting() != (Setting{0.1, 0}) {
		t.Errorf("brighter: %+v", c.Setting())
	}
	run(c, 0.9)
	if s := c.Setting(); s.Gain != 0 || s.Seconds >= 0.1 {
		t.Errorf("brighter still: %+v", s)
	}
}

// An eighth of the range of the gain at a time, wherever the range begins, and no
// further than its ends.
func TestGainSteps(t *testing.T) {
	gains := Limits{Seconds: Range{0.01, 0.01}, Gain: Range{10, 58}}
	for _, k := range []struct{ level, from, want float64 }{{0.1, 20, 26}, {0.1, 55, 58}, {1, 20, 14}, {1, 13, 10}} {
		c := New(gains, Setting{Seconds: 0.01, Gain: k.from})
		for range settle + window {
			if c.Step(k.level) == Changed {
				break
			}
		}
		if got := c.Setting().Gain; got != k.want {
			t.Errorf("level %g at a gain of %g: %g, want %g", k.level, k.from, got, k.want)
		}
	}
}

func TestLimits(t *testing.T) {
	fixed := Limits{Seconds: Range{0.01, 0.01}}
	for level, want := range map[float64]Verdict{1: TooBright, 0.9: TooBright, 0: TooFaint, 0.1: TooFaint, 0.6: Good} {
		c := New(fixed, Setting{Seconds: 0.01})
		var v Verdict
		for range settle + agree*window {
			if v = c.Step(level); v == Changed {
				t.Errorf("level %g: changed to %+v, which cannot be", level, c.Setting())
			}
			if v == want {
				break
			}
		}
		if v != want {
			t.Errorf("level %g: %s, want %s", level, v, want)
		}
	}
}

// ring draws a ring of so many ADU over a dark sky.
func ring(radius, bright float64) *frame.Frame {
	f := frame.New(640, 480)
	f.White = 255
	rng := rand.New(rand.NewPCG(3, 4))
	for i := range f.Pix {
		r := math.Hypot(float64(i%640)-300, float64(i/640)-200)
		v := 8 + 2*rng.NormFloat64()
		if r < radius && r > radius/4 {
			v += bright
		}
		f.Pix[i] = float32(min(255, max(0, v)))
	}
	return f
}

func TestLevel(t *testing.T) {
	for _, c := range []struct{ radius, bright, want float64 }{
		{12, 120, 128. / 255}, {100, 120, 128. / 255}, {200, 30, 38. / 255}, {60, 400, 1}, {0, 0, 0},
	} {
		if got := Level(ring(c.radius, c.bright)); math.Abs(got-c.want) > 0.035 {
			t.Errorf("radius %g, %g ADU: level %.3f, want %.3f", c.radius, c.bright, got, c.want)
		}
	}
	hot := ring(0, 0)
	for i := 0; i < len(hot.Pix); i += 501 { // 613 hot pixels, none beside another
		hot.Pix[i] = 255
	}
	if got := Level(hot); got > 0.08 {
		t.Errorf("hot pixels alone: level %.3f", got)
	}
	for _, f := range []*frame.Frame{frame.New(1, 1), frame.New(640, 480), {White: 255}} {
		if got := Level(f); got != 0 {
			t.Errorf("%d x %d, white %g: level %g", f.Width, f.Height, f.White, got)
		}
	}
}

// A hundred pixels may be brighter than the level, a hundred and one not; the level
// is the darkest of these, from a twentieth of the clipping level on.
func TestLevelIsOfTheBrightestHundred(t *testing.T) {
	for _, c := range []struct {
		pairs int
		adu   float32
		want  float64
	}{{100, 128, 0}, {101, 128, 0.5}, {101, 253, 1}, {101, 252, 1008.5 / 1024}, {101, 13, 13. / 256}, {101, 12, 0}} {
		f := frame.New(300, 200)
		f.White = 256
		for i := range c.pairs { // every third pixel and its neighbour, in rows that are looked at
			at := 2*(i/90)*300 + 3*(i%90)
			f.Pix[at], f.Pix[at+1] = c.adu, c.adu
		}
		if got := Level(f); math.Abs(got-c.want) > 1./1024 {
			t.Errorf("%d of %g ADU: level %.4f, want %.4f", c.pairs, c.adu, got, c.want)
		}
	}
}

func BenchmarkLevel1280x960(b *testing.B) {
	f := frame.New(1280, 960)
	f.White = 255
	for i := range f.Pix {
		f.Pix[i] = float32(i % 251)
	}
	b.ReportAllocs()
	for b.Loop() {
		Level(f)
	}
}
