package audio

import (
	"bufio"
	"bytes"
	"fmt"
	"math"
	"os/exec"
	"sort"
	"testing"
)

func cents(a, b float64) float64 { return 1200 * math.Log2(a/b) }

// aubioPitches tracks the pitch of a file with aubiopitch: Hz every 512 samples,
// 0 where there is none.
func aubioPitches(t testing.TB, path string) (seconds, hz []float64) {
	t.Helper()
	out, err := exec.Command("aubiopitch", "-i", path, "-r", "0", "-B", "2048", "-H", "512", "-p", "yin", "-s", "-50").Output()
	if err != nil {
		t.Fatalf("aubiopitch (package aubio-tools): %v", err)
	}
	for lines := bufio.NewScanner(bytes.NewReader(out)); lines.Scan(); {
		var at, f float64
		if _, err := fmt.Sscan(lines.Text(), &at, &f); err == nil {
			seconds, hz = append(seconds, at), append(hz, f)
		}
	}
	return seconds, hz
}

// An independent tracker hears the pitch that the mapping claims, within 30 cents.
func TestPitchIsHeardByAnIndependentTracker(t *testing.T) {
	for _, w := range []Waveform{Soft, Sine, Reed} {
		d := NewMixer(Settings{Mapping: Mapping{Wave: w}})
		for _, tone := range []Tone{
			{Trim, 12, 0}, {Trim, 4, 0.4}, {Trim, 1, 0.1}, {Trim, 0.25, 0},
			{Centre, 1, 0}, {Centre, 0.1, 0}, {Inside, 0.3, 0.1},
		} {
			d.SetTone(tone)
			_, hz := aubioPitches(t, render(t, d, 3, nil))
			var heard []float64
			for _, f := range hz[len(hz)/4:] {
				if f > 0 {
					heard = append(heard, f)
				}
			}
			sort.Float64s(heard)
			want := d.Mapping().Hz(tone)
			if len(heard) < len(hz)/5 {
				t.Errorf("waveform %d, %+v: pitch heard in %d of %d looks only", w, tone, len(heard), len(hz))
				continue
			}
			if off := cents(heard[len(heard)/2], want); math.Abs(off) > 30 {
				t.Errorf("waveform %d, %+v: heard %.1f Hz, want %.1f (%+.0f cents)", w, tone, heard[len(heard)/2], want, off)
			}
		}
	}
}

func TestPitchAndPulseRiseAsTheErrorFalls(t *testing.T) {
	for _, curve := range []float64{0.3, 1, 3} {
		risesAsTheErrorFalls(t, Mapping{Curve: curve})
	}
	even, late := Mapping{}, Mapping{Curve: 2}
	for _, e := range []float64{8, 1} { // the same ends, another way between them
		if tone := (Tone{State: Trim, Error: e}); late.Hz(tone) >= even.Hz(tone) {
			t.Errorf("error %g: %.0f Hz with a curve of 2, %.0f even", e, late.Hz(tone), even.Hz(tone))
		}
	}
}

func risesAsTheErrorFalls(t *testing.T, m Mapping) {
	t.Helper()
	for _, s := range []State{Trim, Centre} {
		far := map[State]float64{Trim: trimFar, Centre: centreFar}[s]
		near := map[State]float64{Trim: trimNear, Centre: centreNear}[s]
		before := Tone{State: s, Error: far}
		for e := far * 0.98; e > near; e *= 0.98 {
			now := Tone{State: s, Error: e}
			if m.Hz(now) <= m.Hz(before) || m.PulsesPerSecond(now) <= m.PulsesPerSecond(before) {
				t.Fatalf("state %d: no rise from %v to %v", s, before.Error, e)
			}
			before = now
		}
	}
}

// Every halving of the error is the same step in pitch.
func TestLastToleranceIsAsAudibleAsTheFirst(t *testing.T) {
	m := Mapping{}
	step := func(e float64) float64 {
		return cents(m.Hz(Tone{State: Trim, Error: e / 2}), m.Hz(Tone{State: Trim, Error: e}))
	}
	for _, e := range []float64{8, 4, 2, 1, 0.6} {
		if math.Abs(step(e)-step(12)) > 0.01 {
			t.Errorf("halving %v: %.1f cents, halving 12: %.1f", e, step(e), step(12))
		}
	}
	// Untrained listeners tell 30 to 40 cents apart for sure (Parncutt & Cohen,
	// Percept. Psychophys. 57, 835-846 (1995)).
	if step(2) < 40 {
		t.Errorf("a halving is only %.0f cents", step(2))
	}
}

// No error however small reaches the pitch of Inside, and none of Inside's that of
// Stop: half a semitone at the least, and inside 200 to 1200 Hz all of them.
func TestInsideAndStopAreOffTheRamp(t *testing.T) {
	m := Mapping{}
	ramp := m.Hz(Tone{State: Trim})
	inside, stop := m.Hz(Tone{State: Inside}), m.Hz(Tone{State: Stop})
	if cents(inside, ramp) < 50 || cents(stop, inside) < 50 {
		t.Errorf("ramp ends at %.0f Hz, inside %.0f, stop %.0f", ramp, inside, stop)
	}
	if low := m.Hz(Tone{State: Trim, Error: 1e6}); low < 200 || stop > 1200 {
		t.Errorf("range %.0f to %.0f Hz", low, stop)
	}
}

func TestOddTonesAreHarmless(t *testing.T) {
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), -1, 0, 1e300} {
		d := NewMixer(Settings{})
		for s := Off; s <= Wait; s++ {
			d.SetTone(Tone{s, v, v})
			for _, x := range pull(d, 0.2) {
				if math.IsNaN(x) || math.Abs(x) > 1 {
					t.Fatalf("state %d, error and sigma %v: sample %v", s, v, x)
				}
			}
		}
	}
}

// Each mode is enough alone: what differs in one mode differs in all.
func TestModes(t *testing.T) {
	m := Mapping{Mode: PulseOnly}
	near, far := Tone{State: Trim, Error: 0.5}, Tone{State: Trim, Error: 5}
	if m.Hz(near) != m.Hz(far) || m.PulsesPerSecond(near) < 2*m.PulsesPerSecond(far) {
		t.Errorf("pulse only: %v and %v Hz, %v and %v pulses", m.Hz(near), m.Hz(far), m.PulsesPerSecond(near), m.PulsesPerSecond(far))
	}
	m.Mode = WordsOnly
	if m.Hz(near) != 0 || m.Progress(near) < m.Progress(far)+0.3 {
		t.Errorf("words only: %v Hz, %v and %v", m.Hz(near), m.Progress(near), m.Progress(far))
	}
	d := NewMixer(Settings{Mapping: m})
	d.SetTone(near)
	for _, v := range pull(d, 0.5) {
		if v != 0 {
			t.Fatal("words only, but the tone sounds")
		}
	}
}

// pulses counts how often the tone sets in, in a second.
func pulses(x []float64) (n int) {
	level, on := 0.0, false
	for _, v := range x {
		level += (math.Abs(v) - level) * 0.005
		switch {
		case !on && level > 0.01:
			on, n = true, n+1
		case on && level < 0.003:
			on = false
		}
	}
	return n
}

func TestRhythmsAreHeard(t *testing.T) {
	for _, c := range []struct {
		tone Tone
		want int // in four seconds
	}{
		{Tone{Trim, 12, 0}, 4},
		{Tone{Trim, 0.25, 0}, 32},
		{Tone{Inside, 0.25, 0}, 14}, // two beats each 0.6 s: 13.3
		{Tone{Stop, 0.25, 0}, 1},    // never stops
	} {
		d := NewMixer(Settings{Mapping: Mapping{Mode: PulseOnly}})
		d.SetTone(c.tone)
		if got := pulses(pull(d, 4)); got < c.want-1 || got > c.want+1 {
			t.Errorf("%+v: %d onsets in 4 s, want %d", c.tone, got, c.want)
		}
	}
}

// Uncertainty is heard: the loudness sinks and swells.
func TestUncertaintyBreathes(t *testing.T) {
	depth := func(sigma float64) float64 {
		d := NewMixer(Settings{Mapping: Mapping{Mode: PulseOnly}})
		d.SetTone(Tone{Trim, 1, sigma})
		pull(d, 0.5)
		lowest, highest := math.Inf(1), 0.0
		for range 30 { // over one swing of the tremolo and more; each look takes in a whole pulse
			p := 0.0
			for _, v := range pull(d, 0.2) {
				p = math.Max(p, math.Abs(v))
			}
			lowest, highest = math.Min(lowest, p), math.Max(highest, p)
		}
		return toDB(highest / lowest)
	}
	still, some, wild := depth(0), depth(0.3), depth(3)
	t.Logf("tremolo %.1f, %.1f, %.1f dB", still, some, wild)
	if still > 0.1 || some < 1 || wild < some+2 {
		t.Errorf("tremolo %.1f, %.1f, %.1f dB for sigma 0, 0.3 and 3", still, some, wild)
	}
}
