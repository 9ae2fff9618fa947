package audio

import (
	"math"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"

	"halocue/audio/resample"
)

// render writes what a mixer plays to a WAV file: play may change what is asked
// for at each tenth of a second.
func render(t testing.TB, d *Mixer, seconds float64, play func(tenth int)) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "out.wav")
	f, err := NewFile(d, path)
	if err != nil {
		t.Fatal(err)
	}
	for i := range int(seconds * 10) {
		if play != nil {
			play(i)
		}
		if err := f.Advance(0.1); err != nil {
			t.Fatal(err)
		}
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

var meter = regexp.MustCompile(`(?s)Summary:.*I: +(-?[\d.]+|-inf) LUFS.*Peak: +(-?[\d.]+|-inf) dBFS`)

// ffmpegMeter reads integrated loudness (LUFS) and true peak (dBFS) of a file by
// ffmpeg's ebur128 filter, which knows nothing of ours.
func ffmpegMeter(t testing.TB, path string) (lufs, peak float64) {
	t.Helper()
	out, err := exec.Command("ffmpeg", "-hide_banner", "-nostats", "-i", path,
		"-af", "ebur128=framelog=verbose:peak=true", "-f", "null", "-").CombinedOutput()
	m := meter.FindSubmatch(out)
	if err != nil || m == nil {
		t.Fatalf("ffmpeg's meter (package ffmpeg): %v\n%s", err, out)
	}
	lufs, _ = strconv.ParseFloat(string(m[1]), 64)
	peak, _ = strconv.ParseFloat(string(m[2]), 64)
	return lufs, peak
}

func espeak(t testing.TB, text string) Clip {
	t.Helper()
	out, err := exec.Command("espeak-ng", "-v", "en-us", "-s", "160", "--stdout", text).Output()
	if err != nil || len(out) < 44 {
		t.Fatalf("espeak-ng (package espeak-ng): %v", err)
	}
	pcm := make([]int16, (len(out)-44)/2)
	for i := range pcm {
		pcm[i] = int16(uint16(out[44+2*i]) | uint16(out[45+2*i])<<8)
	}
	pcm, err = resample.PCM(pcm, 22050, Rate)
	if err != nil {
		t.Fatal(err)
	}
	return FromPCM(pcm)
}

func steps(parts ...[2]float64) []float32 {
	var pcm []float32
	for _, p := range parts {
		pcm = append(pcm, sine(1000, p[1], p[0]).PCM()...)
	}
	return pcm
}

// EBU Tech 3341 (2016), Table 1, cases 1 to 5: a 1 kHz sine, alike in both
// channels, at these levels (dBFS) for these times (s); the meter must read within
// 0.1 LU. (Expected values as in the libebur128 test suite.)
func TestLoudnessReadsTheEBUTestSignals(t *testing.T) {
	for i, c := range []struct {
		pcm  []float32
		want float64
	}{
		{steps([2]float64{-23, 20}), -23},
		{steps([2]float64{-33, 20}), -33},
		{steps([2]float64{-36, 10}, [2]float64{-23, 60}, [2]float64{-36, 10}), -23},
		{steps([2]float64{-72, 10}, [2]float64{-36, 10}, [2]float64{-23, 60}, [2]float64{-36, 10}, [2]float64{-72, 10}), -23},
		{steps([2]float64{-26, 20}, [2]float64{-20, 20.1}, [2]float64{-26, 20}), -23},
	} {
		if got := Loudness(c.pcm); math.Abs(got-c.want) > 0.1 {
			t.Errorf("case %d: %.2f LUFS, want %.1f", i+1, got, c.want)
		}
	}
	// ITU-R BS.1770-4, Annex 1: 997 Hz at 0 dBFS in one channel reads -3.01; in
	// two that is 0.0.
	if got := Loudness(sine(997, 5, 0).PCM()); math.Abs(got) > 0.02 {
		t.Errorf("997 Hz at full scale: %.3f LUFS, want 0.0", got)
	}
}

var phrases = []string{
	"Left-hand knob, tighten slightly.", "Stop.", "Top knob, loosen half a turn.",
	"The star has left the frame. Move the tube slowly until I say stop.",
	"Hands off. I am measuring.",
}

// EBU R 128: speech is within 1 LU of the target by ffmpeg's meter, phrase by
// phrase (a phrase shorter than a block of the meter, 0.4 s, is repeated).
func TestSpeechIsAtTheTarget(t *testing.T) {
	for _, text := range phrases {
		c := espeak(t, text).Trimmed().Levelled(SpeechLUFS)
		d := NewMixer(Settings{})
		d.Say(c)
		got, peak := ffmpegMeter(t, render(t, d, math.Max(1, math.Ceil(c.Seconds()*10)/10), nil))
		t.Logf("%6.2f LUFS, peak %5.1f dBFS, own meter %6.2f: %s", got, peak, Loudness(c.PCM()), text)
		if math.Abs(got-SpeechLUFS) > 1 {
			t.Errorf("%q reads %.1f LUFS, want %.0f", text, got, SpeechLUFS)
		}
		if peak > ceilingDB+0.5 {
			t.Errorf("%q peaks at %.1f dBFS", text, peak)
		}
	}
}

// EBU R 128: a slow sweep over the whole range, pulses and all, is within 1 LU of
// the target by ffmpeg's meter, in every timbre.
func TestToneIsAtTheTarget(t *testing.T) {
	for _, w := range []Waveform{Soft, Sine, Reed} {
		d := NewMixer(Settings{Mapping: Mapping{Wave: w}})
		got, _ := ffmpegMeter(t, render(t, d, 24, func(tenth int) {
			d.SetTone(Tone{State: Trim, Error: 12 * math.Pow(0.25/12, float64(tenth)/240)})
		}))
		t.Logf("waveform %d: %.1f LUFS", w, got)
		if math.Abs(got-defaultToneLUFS) > 1 {
			t.Errorf("waveform %d reads %.1f LUFS, want %.0f", w, got, defaultToneLUFS)
		}
	}
}

// The tone is equally loud at every pitch by the A weighting. The K weighting that
// ffmpeg reads with differs from it; what each does to a sine is published: A in
// IEC 61672-1:2013, Table 3 (-10.9 dB at 200 Hz, -4.8 at 400, -0.8 at 800), K in
// ITU-R BS.1770 (calculated from its filters relative to 997 Hz: -0.96 dB at 200
// Hz, -0.71 at 400, -0.36 at 800). So ffmpeg's reading minus K plus A must be one
// number for all pitches.
func TestToneIsLevelByTheAWeighting(t *testing.T) {
	d := NewMixer(Settings{Mapping: Mapping{Wave: Sine, Low: 200, High: 800, Slow: 4, Fast: 4}})
	var level []float64
	for _, c := range []struct{ err, k, a float64 }{
		{12, -0.96, -10.9}, {math.Sqrt(12 * 0.25), -0.71, -4.8}, {0.25, -0.36, -0.8},
	} {
		d.SetTone(Tone{State: Trim, Error: c.err})
		got, _ := ffmpegMeter(t, render(t, d, 5, nil))
		level = append(level, got-c.k+c.a)
	}
	t.Logf("A-weighted level at 200, 400, 800 Hz: %.1f dB", level)
	for _, l := range level {
		if math.Abs(l-level[1]) > 0.5 {
			t.Errorf("the tone is not equally loud: %.1f dB", level)
		}
	}
}

// EBU R 128: the sounds off the ramp are within 1 LU of the target too.
func TestEverySoundIsAsLoudAsTheTone(t *testing.T) {
	d := NewMixer(Settings{})
	for _, s := range []State{Inside, Stop, Centre} {
		d.SetTone(Tone{State: s, Error: 0.3})
		got, _ := ffmpegMeter(t, render(t, d, 5, nil))
		t.Logf("state %d: %.1f LUFS", s, got)
		if math.Abs(got-defaultToneLUFS) > 1 {
			t.Errorf("state %d reads %.1f LUFS, want %.0f", s, got, defaultToneLUFS)
		}
	}
}
