package audio

import (
	"fmt"
	"math"

	"github.com/faiface/beep"
)

// Clip is a piece of sound: mono, Rate samples a second, full scale at 1. It never
// changes once it is made, so any number of goroutines may hold it. The zero Clip
// is empty.
type Clip struct {
	pcm   []float32
	aloud *aloud // nil: what is heard are the samples
}

// aloud is somebody else who speaks while the clip, a silence, is played.
type aloud struct{ begin, cut func() }

// Aloud is the clip as a place for sound that is made elsewhere: begin is called when
// a desk starts it, and cut when the desk is asked for something else or for silence,
// even after its end. Both are called by whoever talks to the desk.
func (c Clip) Aloud(begin, cut func()) Clip { return Clip{c.pcm, &aloud{begin, cut}} }

// Samples is the length in samples.
func (c Clip) Samples() int { return len(c.pcm) }

// Seconds is the length in seconds.
func (c Clip) Seconds() float64 { return float64(len(c.pcm)) / Rate }

// PCM returns a copy of the samples.
func (c Clip) PCM() []float32 { return append([]float32(nil), c.pcm...) }

// Peak is the largest absolute sample.
func (c Clip) Peak() float64 {
	peak := 0.0
	for _, v := range c.pcm {
		peak = math.Max(peak, math.Abs(float64(v)))
	}
	return peak
}

// FromPCM makes a clip of 16-bit mono samples, resampled to Rate.
// The rate must be 4000 to 192000.
func FromPCM(rate int, pcm []int16) (Clip, error) {
	if rate < 4000 || rate > 192000 {
		return Clip{}, fmt.Errorf("sound at %d samples a second: give 4000 to 192000", rate)
	}
	in := make([]float32, len(pcm))
	for i, v := range pcm {
		in[i] = float32(v) / 32768
	}
	if rate == Rate {
		return Clip{pcm: in}, nil
	}
	want := int(int64(len(in)) * Rate / int64(rate))
	// Quality 6 is beep's "very good"; it costs a thirtieth of real time and is
	// done once for each phrase.
	s := beep.Resample(6, beep.SampleRate(rate), Rate, &clipStreamer{pcm: in})
	out := make([]float32, 0, want)
	var buf [512][2]float64
	for len(out) < want {
		n, ok := s.Stream(buf[:min(len(buf), want-len(out))])
		for _, v := range buf[:n] {
			out = append(out, float32(v[0]))
		}
		if !ok {
			break
		}
	}
	return Clip{pcm: out}, nil
}

// clipStreamer hands samples to beep.
type clipStreamer struct {
	pcm []float32
	pos int
}

func (s *clipStreamer) Stream(out [][2]float64) (int, bool) {
	n := min(len(out), len(s.pcm)-s.pos)
	for i := range n {
		v := float64(s.pcm[s.pos+i])
		out[i] = [2]float64{v, v}
	}
	s.pos += n
	return n, n > 0
}

func (s *clipStreamer) Err() error { return nil }

// Trimmed is the clip without the silence before and after: what is more than
// 50 dB below its peak, save 5 ms at the front and 20 ms at the end. A cue then
// starts when it is asked for.
func (c Clip) Trimmed() Clip {
	floor := float32(c.Peak() * 0.00316)
	first, last := 0, len(c.pcm)
	for first < last && abs32(c.pcm[first]) <= floor {
		first++
	}
	for last > first && abs32(c.pcm[last-1]) <= floor {
		last--
	}
	return Clip{pcm: c.pcm[max(0, first-samples(0.005)):min(len(c.pcm), last+samples(0.020))]}
}

func abs32(v float32) float32 {
	if v < 0 {
		return -v
	}
	return v
}

// Scaled is the clip times a gain in decibels.
func (c Clip) Scaled(db float64) Clip {
	g := float32(fromDB(db))
	out := make([]float32, len(c.pcm))
	for i, v := range c.pcm {
		out[i] = v * g
	}
	return Clip{pcm: out}
}

// Levelled is the clip at a loudness in LUFS (ITU-R BS.1770, played in two
// channels), as near as a peak of -1 dBFS allows. A silent clip is unchanged.
func (c Clip) Levelled(lufs float64) Clip {
	l := Loudness(c.pcm)
	if math.IsInf(l, -1) {
		return c
	}
	return c.Scaled(math.Min(lufs-l, -1-toDB(c.Peak())))
}

func fromDB(db float64) float64  { return math.Pow(10, db/20) }
func toDB(ratio float64) float64 { return 20 * math.Log10(ratio) }
