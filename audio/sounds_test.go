package audio

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/dsp/window"
)

// picture is what of a sound an ear keeps: the level in 20 bands of a quarter of an
// octave from 200 Hz up, 20 times a second, over a second.
func picture(x []float64) []float64 {
	const n, hop, bands = 4096, Rate / 20, 20
	fft := fourier.NewFFT(n)
	var out []float64
	for at := 0; at < 20; at++ {
		frame := make([]float64, n)
		if from := at * hop; from < len(x) {
			copy(frame, x[from:])
		}
		power := make([]float64, bands)
		for i, c := range fft.Coefficients(nil, window.Hann(frame)) {
			band := int(4 * math.Log2(math.Max(1, float64(i)*Rate/n)/200))
			if band >= 0 && band < bands && float64(i)*Rate/n >= 200 {
				power[band] += real(c)*real(c) + imag(c)*imag(c)
			}
		}
		for _, p := range power {
			out = append(out, math.Sqrt(p))
		}
	}
	return out
}

// alike is the greatest likeness of two sounds, 0 to 1, whichever begins first by up
// to a third of a second: the cosine between their pictures.
func alike(a, b []float64) (best float64) {
	for shift := -6; shift <= 6; shift++ {
		var ab, aa, bb float64
		for i := range a {
			j := i + shift*20
			aa += a[i] * a[i]
			bb += b[i] * b[i]
			if j >= 0 && j < len(b) {
				ab += a[i] * b[j]
			}
		}
		best = math.Max(best, ab/math.Sqrt(aa*bb+1e-12))
	}
	return best
}

// heard is the first second of a sound.
func (s Sound) heard() []float64 {
	d := NewMixer(Settings{})
	var x []float64
	for tenth := range 10 {
		s.At(d, float64(tenth)/10)
		x = append(x, pull(d, 0.1)...)
	}
	return x
}

// No earcon is like another, nor like the tone in any state.
func TestSoundsAreNeverAlike(t *testing.T) {
	all := Sounds()
	pictures := make([][]float64, len(all))
	for i, s := range all {
		pictures[i] = picture(s.heard())
		if got := alike(pictures[i], pictures[i]); got < 0.99 {
			t.Fatalf("%s is not like itself: %.2f", s.Code, got)
		}
	}
	for i, a := range all {
		for j, b := range all[:i] {
			if a.tone != nil && b.tone != nil { // told apart by rhythm too: see TestRhythmsAreHeard
				continue
			}
			if got := alike(pictures[i], pictures[j]); got > 0.75 {
				t.Errorf("%s and %s are alike: %.2f", a.Code, b.Code, got)
			}
		}
	}
}

func TestEarconsAreShort(t *testing.T) {
	codes := map[string]bool{}
	for _, e := range Earcons() {
		if s := e.Clip().Seconds(); s > 1.1 {
			t.Errorf("%v lasts %.1f s", e, s)
		}
		if codes[e.String()] {
			t.Errorf("%v has no name of its own", e)
		}
		codes[e.String()] = true
	}
}

// A sound that has been shown leaves the mixer silent.
func TestSoundsEnd(t *testing.T) {
	for _, s := range Sounds() {
		d := NewMixer(Settings{})
		var rest []float64
		for at := 0.0; at < s.Seconds+1; at += 0.1 {
			s.At(d, at)
			rest = pull(d, 0.1)
		}
		if p := power(rest); p > 0 {
			t.Errorf("%s still sounds", s.Code)
		}
	}
}

// The gain of the K weighting is what its filter does to a sine: the level of the filtered one
// over that of the sine, once it has settled.
func TestGainIsWhatTheFilterDoes(t *testing.T) {
	for _, hz := range []float64{40, 100, 997, 4000} {
		x := make([]float64, 2*Rate)
		for i := range x {
			x[i] = math.Sin(2 * math.Pi * hz * float64(i) / Rate)
		}
		got := math.Sqrt(power(kHighPass.filter(kShelf.filter(x))[Rate:]) / power(x[Rate:]))
		if math.Abs(got/kGain(hz)-1) > 0.001 {
			t.Errorf("%g Hz: the filter passes %.4f, its gain is %.4f", hz, got, kGain(hz))
		}
	}
}

// The coming tone falls by the same factor in the same time, from 8 tolerances to 0.3.
func TestComingToneFallsEvenly(t *testing.T) {
	for _, s := range Sounds() {
		if s.Code != "tone-coming" {
			continue
		}
		m := NewMixer(Settings{})
		for _, c := range []struct{ part, want float64 }{{0, 8}, {0.5, math.Sqrt(8 * 0.3)}, {0.999, 0.3}} {
			if s.At(m, c.part*s.Seconds); math.Abs(m.Tone().Error/c.want-1) > 0.02 {
				t.Errorf("after %g of its time it is at %.2f tolerances, want %.2f", c.part, m.Tone().Error, c.want)
			}
		}
		if s.At(m, s.Seconds); m.Tone().State != Off {
			t.Error("it goes on after its end")
		}
	}
}
