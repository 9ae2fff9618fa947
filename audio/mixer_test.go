package audio

import (
	"math"
	"slices"
	"testing"
)

func pull(d *Mixer, seconds float64) []float64 {
	buf := make([][2]float64, samples(seconds))
	d.Stream(buf)
	out := make([]float64, len(buf))
	for i, v := range buf {
		out[i] = v[0]
	}
	return out
}

// sine is a clip of a sine at a level in dBFS (peak).
func sine(hz, seconds, db float64) Clip {
	pcm := make([]float32, samples(seconds))
	for i := range pcm {
		pcm[i] = float32(fromDB(db) * math.Sin(2*math.Pi*hz*float64(i)/Rate))
	}
	return fromFloats(pcm)
}

func TestStreamDoesNotAllocate(t *testing.T) {
	d := NewMixer(Settings{Mapping: Mapping{Reference: true}})
	clip := sine(300, 0.05, -10)
	buf := make([][2]float64, 512)
	for s := Off; s <= Wait; s++ {
		d.SetTone(Tone{s, 2, 1})
		d.Say(clip)
		d.Play(StarLost)
		if n := testing.AllocsPerRun(50, func() { d.Stream(buf) }); n != 0 {
			t.Errorf("state %d: %v allocations a buffer", s, n)
		}
	}
}

func TestWordsStartWithTheNextSample(t *testing.T) {
	d := NewMixer(Settings{})
	pull(d, 0.1)
	clip := sine(1000, 0.2, -20)
	d.Say(clip)
	if speaking, left := d.Speaking(); !speaking || left != clip.Samples() {
		t.Fatalf("before a pull: speaking %v, %d left of %d", speaking, left, clip.Samples())
	}
	got := pull(d, 0.1)
	for i := range got {
		if want := float64(clip.pcm[i]) / fullScale; math.Abs(got[i]-want) > 1e-6 {
			t.Fatalf("sample %d is %v, want %v", i, got[i], want)
		}
	}
	if _, left := d.Speaking(); left != clip.Samples()-len(got) {
		t.Errorf("%d left", left)
	}
}

// While somebody speaks the tone makes room, but stays, and comes back by itself.
func TestToneMakesRoomForWhoSpeaks(t *testing.T) {
	d := NewMixer(Settings{})
	level := func(each func()) float64 {
		sum := 0.0
		for i := range 250 {
			each()
			for _, v := range pull(d, 0.02) {
				if i >= 50 { // after a second
					sum += v * v
				}
			}
		}
		return toDB(math.Sqrt(sum))
	}
	nobody := func() {}
	d.SetTone(Tone{Trim, 2, 0})
	before := level(nobody)
	if down := level(d.Attend) - before; math.Abs(down-duckDB) > 0.5 {
		t.Errorf("while somebody speaks the tone changes by %.1f dB, want %v", down, duckDB)
	}
	if after := level(nobody) - before; math.Abs(after) > 0.5 {
		t.Errorf("afterwards the tone stays at %.1f dB", after)
	}
}

func BenchmarkStream(b *testing.B) {
	d := NewMixer(Settings{})
	d.SetTone(Tone{Trim, 2, 0.3})
	buf := make([][2]float64, 512)
	for b.Loop() {
		d.Stream(buf)
	}
	b.ReportMetric(b.Elapsed().Seconds()/(float64(b.N)*512/Rate), "of-real-time")
}

// steepest is the largest second difference: what a click has and a wave of the
// pitches in use has not.
func steepest(x []float64) (worst float64, at int) {
	for i := 2; i < len(x); i++ {
		if s := math.Abs(x[i] - 2*x[i-1] + x[i-2]); s > worst {
			worst, at = s, i
		}
	}
	return worst, at
}

func TestNoClicks(t *testing.T) {
	words := sine(300, 5, -12)
	// Of the words: (2 pi 300 Hz / 48 kHz)^2 x 0.25, and a little for the tone.
	const calm = 0.0005
	for _, c := range []struct {
		name string
		do   func(d *Mixer)
	}{
		{"tone off", func(d *Mixer) { d.SetTone(Tone{}) }},
		{"tone jumps", func(d *Mixer) { d.SetTone(Tone{Trim, 0.3, 0}) }},
		{"tone breathes", func(d *Mixer) { d.SetTone(Tone{Trim, 2, 5}) }},
		{"to centre", func(d *Mixer) { d.SetTone(Tone{Centre, 1, 0}) }},
		{"to inside", func(d *Mixer) { d.SetTone(Tone{Inside, 1, 0}) }},
		{"to stop", func(d *Mixer) { d.SetTone(Tone{Stop, 1, 0}) }},
		{"words duck", func(d *Mixer) { d.Say(words) }},
		{"somebody speaks", (*Mixer).Attend},
		{"words cut off", func(d *Mixer) { d.Hush() }},
		{"words replaced", func(d *Mixer) { d.Say(words) }},
		{"earcon", func(d *Mixer) { d.Play(StarLost) }},
		{"louder", func(d *Mixer) { d.SetVolume(6) }},
		{"muted", func(d *Mixer) { d.SetVolume(math.Inf(-1)) }},
	} {
		for offset := 0.0; offset < 0.3; offset += 0.0671 { // wherever in the rhythm
			d := NewMixer(Settings{Mapping: Mapping{Wave: Sine}})
			d.SetTone(Tone{Trim, 2, 0})
			if c.name != "words duck" {
				d.Say(words)
			}
			pull(d, 0.5+offset)
			c.do(d)
			after := pull(d, 0.5)
			// A step of -46 dBFS is a second difference of ten times the calm one. The
			// stop sound is curved more by itself: higher, and rich in partials.
			if got, at := steepest(after); got > 4*calm && c.name != "to stop" || got > 8*calm {
				t.Errorf("%s at %.3f s: second difference %.5f after %d samples, calm %.5f", c.name, offset, got, at, calm)
			}
		}
	}
}

func TestToneDucksTwelveDecibels(t *testing.T) {
	d := NewMixer(Settings{Mapping: Mapping{Wave: Sine}})
	d.SetTone(Tone{Stop, 1, 0}) // steady
	open := Loudness(clipOf(pull(d, 2)).PCM())
	d.Say(Clip{pcm: make([]int16, 3*Rate)}) // words that are silent, so that the tone is measured alone
	pull(d, 0.5)
	ducked := Loudness(clipOf(pull(d, 2)).PCM())
	if got := ducked - open; math.Abs(got+12) > 0.2 {
		t.Errorf("ducked by %.2f dB, want -12", got)
	}
	pull(d, 2)
	if back := Loudness(clipOf(pull(d, 2)).PCM()); math.Abs(back-open) > 0.2 {
		t.Errorf("after the words %.1f LUFS, before %.1f", back, open)
	}
}

// After words the stop sound stays low for as long as the next cue may take to
// follow; any other tone is back at once.
func TestStopStaysLowForTheNextCue(t *testing.T) {
	for state, low := range map[State]bool{Stop: true, Centre: false} {
		d := NewMixer(Settings{Mapping: Mapping{Wave: Sine}})
		d.SetTone(Tone{state, 0.03, 0})
		open := Loudness(clipOf(pull(d, 2)).PCM())
		d.Say(Clip{pcm: make([]int16, Rate)})
		pull(d, 1.2)
		after := Loudness(clipOf(pull(d, 0.5)).PCM())
		if got := after - open; low != (got < -10) {
			t.Errorf("state %d: %.1f dB soon after words", state, got)
		}
		pull(d, 1)
		if got := Loudness(clipOf(pull(d, 2)).PCM()) - open; math.Abs(got) > 0.5 {
			t.Errorf("state %d: %.1f dB two seconds after words", state, got)
		}
	}
}

func clipOf(x []float64) Clip {
	pcm := make([]float32, len(x))
	for i, v := range x {
		pcm[i] = float32(v)
	}
	return fromFloats(pcm)
}

func TestLimiterHoldsTheCeiling(t *testing.T) {
	d := NewMixer(Settings{Volume: 12})
	d.SetTone(Tone{Stop, 1, 0})
	d.Play(DeviceTrouble)
	d.Say(sine(700, 2, 0))
	for i, v := range pull(d, 2) {
		if math.Abs(v) > fromDB(ceilingDB)+1e-9 {
			t.Fatalf("sample %d is %v", i, v)
		}
	}
}

func TestInterruptedWordsDieAtOnce(t *testing.T) {
	d := NewMixer(Settings{})
	d.Say(sine(500, 5, -10))
	pull(d, 0.3)
	d.Say(sine(2000, 0.1, -10))
	got := pull(d, 0.2)
	// 2000 Hz lasts 24 samples, 500 Hz 96: after 10 ms only the former is there.
	if p := power(kHighPass.filter(got[samples(0.011):samples(0.09)])); p == 0 {
		t.Fatal("nothing is heard")
	}
	for i := samples(0.011); i < samples(0.09); i++ {
		if want := float64(sine(2000, 0.1, -10).pcm[i]) / fullScale; math.Abs(got[i]-want) > 1e-6 {
			t.Fatalf("sample %d is %v, want %v: the old words are still there", i, got[i], want)
		}
	}
	if speaking, _ := d.Speaking(); speaking {
		t.Error("still speaking")
	}
}

func TestVolumeStartsLow(t *testing.T) {
	if db := VolumeDB(0.3); db != 0 {
		t.Errorf("the default volume is %v dB", db)
	}
	if db := VolumeDB(1); math.Abs(db-12) > 0.1 {
		t.Errorf("the loudest is %v dB", db)
	}
	if !math.IsInf(VolumeDB(0), -1) || !math.IsInf(VolumeDB(-1), -1) {
		t.Error("zero is not silent")
	}
}

func TestEarconsQueueAndOverflowHarmlessly(t *testing.T) {
	d := NewMixer(Settings{})
	for range 30 {
		d.Play(Understood)
	}
	n := 0
	for range 200 {
		if p := power(pull(d, 0.01)); p > 0 {
			n++
		}
	}
	if want := int(8 * Understood.Clip().Seconds() * 100); n < want-2 || n > want+10 {
		t.Errorf("earcons sounded for %d hundredths, want about %d", n, want)
	}
}

// Words that somebody else says begin with the mixer's silence for them, lower the
// tone, and are cut by whatever comes next.
func TestWordsFromElsewhere(t *testing.T) {
	var told []string
	place := Clip{pcm: make([]int16, Rate)}.Aloud(func() { told = append(told, "begin") }, func() { told = append(told, "cut") })
	d := NewMixer(Settings{})
	d.Say(place)
	if speaking, _ := d.Speaking(); !speaking || len(told) != 1 {
		t.Errorf("speaking %v, told %v", speaking, told)
	}
	d.Say(sine(1000, 0.1, -20))
	d.Say(place)
	d.Hush()
	d.Hush()
	if want := []string{"begin", "cut", "begin", "cut"}; !slices.Equal(told, want) {
		t.Errorf("told %v, want %v", told, want)
	}
}

// Everybody talks to the mixer while one pulls: for the race detector.
func TestMixerIsForManyGoroutines(t *testing.T) {
	d := NewMixer(Settings{})
	done := make(chan struct{})
	go func() {
		defer close(done)
		for i := range 500 {
			d.SetTone(Tone{State(i % 5), 1, 1})
			d.Say(Clip{pcm: make([]int16, 100)})
			d.Play(Earcon(i % earconCount))
			d.SetVolume(float64(i % 6))
			d.Speaking()
			d.Time()
			if i%7 == 0 {
				d.Skip(10)
				d.Hush()
			}
		}
	}()
	buf := make([][2]float64, 512)
	for {
		select {
		case <-done:
			return
		default:
			d.Stream(buf)
		}
	}
}
