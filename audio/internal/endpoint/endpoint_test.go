package endpoint

import (
	"math"
	"math/rand"
	"testing"
)

// voiced is like a vowel: a pitch of 110 Hz that wavers, with many partials.
func voiced(seconds float64) []float64 {
	x := make([]float64, int(seconds*rate))
	phase := 0.0
	for i := range x {
		s := float64(i) / rate
		phase += 2 * math.Pi * (110 + 15*math.Sin(9*s)) / rate
		for k := 1.0; k < 30; k++ {
			x[i] += 0.03 * math.Sin(k*phase) / math.Sqrt(k)
		}
	}
	return x
}

func tone(seconds, hz float64) []float64 {
	x := make([]float64, int(seconds*rate))
	for i := range x {
		p := 2 * math.Pi * hz * float64(i) / rate
		x[i] = 0.1*math.Sin(p) + 0.03*math.Sin(2*p)
	}
	return x
}

func noise(x []float64, rms float64) []float64 {
	rng := rand.New(rand.NewSource(2))
	for i := range x {
		x[i] += rms * rng.NormFloat64()
	}
	return x
}

func join(parts ...[]float64) (all []float64) {
	for _, p := range parts {
		all = append(all, p...)
	}
	return all
}

func TestUtterancesAreCutWhereTheyAre(t *testing.T) {
	quiet := func(s float64) []float64 { return make([]float64, int(s*rate)) }
	x := noise(join(quiet(2), voiced(0.8), quiet(1), voiced(0.4), quiet(0.2), voiced(0.4), quiet(1)), 0.0005)
	s := Splitter{Quietest: -60}
	got := s.Push(x)
	want := [][2]float64{{2, 2.8}, {3.8, 4.8}} // the pause of 0.2 s does not part
	if len(got) != len(want) {
		t.Fatalf("%d utterances", len(got))
	}
	for i, u := range got {
		if math.Abs(u.From-want[i][0]) > 0.1 || math.Abs(u.To-want[i][1]) > 0.1 {
			t.Errorf("utterance %d: %.2f to %.2f s, want %v", i, u.From, u.To, want[i])
		}
		if length := float64(len(u.PCM)) / rate; length < want[i][1]-want[i][0]+0.5 {
			t.Errorf("utterance %d: %.2f s have no silence around", i, length)
		}
	}
}

func TestToneAndSteadyNoiseAreNotSpeech(t *testing.T) {
	for name, x := range map[string][]float64{
		"tone":  noise(join(tone(2, 300), tone(2, 650), tone(2, 1046)), 0.0005),
		"noise": noise(make([]float64, 6*rate), 0.02),
	} {
		s := Splitter{Quietest: -40}
		if got := s.Push(x); len(got) > 0 && name == "tone" || len(got) > 1 {
			t.Errorf("%s: %d utterances", name, len(got))
		}
		if s.Speaking() {
			t.Errorf("%s is speech for ever", name)
		}
	}
}

// A voice at a possible pitch of the tone is speech where it is known that there is no
// tone; and a known tone is no speech.
func TestKnownToneIsTakenOut(t *testing.T) {
	for name, c := range map[string]struct {
		hz   float64
		x    []float64
		want int
	}{
		"a high voice":    {0, tone(1, 330), 1},
		"the tone":        {330, tone(1, 330), 0},
		"another's voice": {660, tone(1, 250), 1},
	} {
		s := Splitter{Quietest: -60, Known: true, Hz: c.hz}
		x := noise(join(make([]float64, 2*rate), c.x, make([]float64, rate)), 0.0005)
		if got := s.Push(x); len(got) != c.want {
			t.Errorf("%s: %d utterances, want %d", name, len(got), c.want)
		}
	}
}
