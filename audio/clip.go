package audio

import "math"

// Clip is a piece of sound: mono, Rate samples a second, 16 bit. It never
// changes once it is made, so any number of goroutines may hold it. The zero Clip
// is empty.
type Clip struct {
	pcm   []int16
	aloud *aloud // nil: what is heard are the samples
}

// aloud is a speaker outside of the mixer, which speaks while the clip, a silence, is
// played.
type aloud struct{ begin, cut func() }

// Aloud returns the clip with a speaker outside of the mixer: begin is called when a
// mixer starts the clip, and cut when the mixer is asked for something else or for
// silence, even after the clip's end. Both are called by the goroutine that calls the
// mixer.
func (c Clip) Aloud(begin, cut func()) Clip { return Clip{c.pcm, &aloud{begin, cut}} }

// Samples is the length in samples.
func (c Clip) Samples() int { return len(c.pcm) }

// Seconds is the length in seconds.
func (c Clip) Seconds() float64 { return float64(len(c.pcm)) / Rate }

// Int16 returns the samples, which must not be changed.
func (c Clip) Int16() []int16 { return c.pcm }

// PCM returns a copy of the samples, full scale at 1.
func (c Clip) PCM() []float32 {
	out := make([]float32, len(c.pcm))
	for i, v := range c.pcm {
		out[i] = float32(v) / fullScale
	}
	return out
}

// Peak is the largest absolute sample, full scale at 1.
func (c Clip) Peak() float64 {
	peak := 0
	for _, v := range c.pcm {
		peak = max(peak, int(v), -int(v))
	}
	return float64(peak) / fullScale
}

// FromPCM makes a clip of 16-bit mono samples, Rate a second, which it keeps: they must
// not change any more.
func FromPCM(pcm []int16) Clip { return Clip{pcm: pcm} }

// fromFloats makes a clip of samples whose full scale is 1.
func fromFloats(pcm []float32) Clip {
	out := make([]int16, len(pcm))
	for i, v := range pcm {
		out[i] = toInt16(float64(v))
	}
	return Clip{pcm: out}
}

// Trimmed is the clip without the silence before and after: what is more than
// 50 dB below its peak, save 5 ms at the front and 20 ms at the end. A cue then
// starts when it is asked for.
func (c Clip) Trimmed() Clip {
	floor := int(c.Peak() * 0.00316 * fullScale)
	quiet := func(v int16) bool { return int(v) <= floor && -int(v) <= floor }
	first, last := 0, len(c.pcm)
	for first < last && quiet(c.pcm[first]) {
		first++
	}
	for last > first && quiet(c.pcm[last-1]) {
		last--
	}
	return Clip{pcm: c.pcm[max(0, first-samples(0.005)):min(len(c.pcm), last+samples(0.020))]}
}

// scaled is the clip times a gain in decibels.
func (c Clip) scaled(db float64) Clip {
	g := fromDB(db) / fullScale
	out := make([]int16, len(c.pcm))
	for i, v := range c.pcm {
		out[i] = toInt16(float64(v) * g)
	}
	return Clip{pcm: out}
}

// Levelled is the clip at a loudness in LUFS (ITU-R BS.1770, played in two
// channels), as near as a peak of -1 dBFS allows. A silent clip is unchanged.
func (c Clip) Levelled(lufs float64) Clip {
	l := Loudness(c.PCM())
	if math.IsInf(l, -1) {
		return c
	}
	return c.scaled(math.Min(lufs-l, -1-toDB(c.Peak())))
}

func fromDB(db float64) float64  { return math.Pow(10, db/20) }
func toDB(ratio float64) float64 { return 20 * math.Log10(ratio) }
