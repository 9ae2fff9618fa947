package audio

import (
	"math"
	"math/rand"

	"github.com/faiface/beep"
)

// Earcon is a short signal with one meaning.
type Earcon int

// The earcons. They differ in contour, rhythm and timbre, not only in pitch.
const (
	StarLost Earcon = iota
	StarFound
	Clouded
	DeviceTrouble
	Understood
	NotUnderstood
	Finished
	Reminder
	earconCount = iota
)

// Earcons lists them all.
func Earcons() []Earcon {
	all := make([]Earcon, earconCount)
	for i := range all {
		all[i] = Earcon(i)
	}
	return all
}

// String is the earcon's stable code.
func (e Earcon) String() string { return earcons[e].code }

// Clip is its sound, not yet at its loudness.
func (e Earcon) Clip() Clip {
	length := 0.0
	var notes []beep.Streamer
	for _, n := range earcons[e].notes {
		length = math.Max(length, n.at+n.length)
		notes = append(notes, beep.Seq(beep.Silence(samples(n.at)), n.streamer()))
	}
	sound := make([][2]float64, samples(length))
	beep.Mix(notes...).Stream(sound)
	pcm := make([]float32, len(sound))
	for i, v := range sound {
		pcm[i] = float32(v[0])
	}
	loudest := float32(1)
	for _, v := range pcm {
		loudest = max(loudest, v, -v)
	}
	for i := range pcm {
		pcm[i] /= loudest
	}
	return fromFloats(pcm)
}

// note is one sound of an earcon: a pitch that may glide, or noise.
type note struct {
	at, length float64 // s
	from, to   float64 // Hz; 0 is noise
	wave       spectrum
	struck     bool // dies away like a struck bar, else is held
}

var (
	plain = spectrum{1, 0.2}
	buzz  = spectrum{1, 0.8, 0.7, 0.6, 0.5}
)

var earcons = [earconCount]struct {
	code  string
	notes []note
}{
	StarLost: {"star-lost", []note{
		{0, 0.20, 659.26, 659.26, plain, false}, {0.22, 0.40, 440, 440, plain, false}}},
	StarFound: {"star-found", []note{
		{0, 0.10, 587.33, 587.33, plain, true}, {0.11, 0.25, 880, 880, plain, true}}},
	Clouded: {"clouded", []note{
		{0, 0.90, 0, 0, plain, false}}},
	DeviceTrouble: {"device-trouble", []note{
		{0, 0.22, 233.08, 233.08, buzz, false}, {0.32, 0.22, 233.08, 233.08, buzz, false}}},
	Understood: {"understood", []note{
		{0, 0.09, 1046.50, 1046.50, plain, true}}},
	NotUnderstood: {"not-understood", []note{
		{0, 0.20, 500, 330, plain, false}, {0.20, 0.20, 330, 500, plain, false}}},
	Finished: {"finished", []note{
		{0, 0.14, 523.25, 523.25, plain, true}, {0.14, 0.14, 659.26, 659.26, plain, true},
		{0.28, 0.14, 783.99, 783.99, plain, true}, {0.42, 0.60, 1046.50, 1046.50, plain, true}}},
	Reminder: {"reminder", []note{
		{0, 0.60, 293.66, 293.66, plain, true}}},
}

// streamer plays the note.
func (n note) streamer() beep.Streamer {
	at := n.glide()
	if n.from == 0 {
		at = breath()
	}
	i, length := 0, samples(n.length)
	return beep.StreamerFunc(func(out [][2]float64) (int, bool) {
		out = out[:min(len(out), length-i)]
		for k := range out {
			v := at(float64(i) / float64(length))
			out[k] = [2]float64{v, v}
			i++
		}
		return len(out), len(out) > 0
	})
}

// glide returns the note's next sample, at x of its length.
func (n note) glide() func(x float64) float64 {
	phase := 0.0
	return func(x float64) float64 {
		phase += 2 * math.Pi * n.from * math.Pow(n.to/n.from, x) / Rate
		return n.wave.at(phase) * n.envelope(x)
	}
}

// envelope is the loudness at x, 0 to 1 of the note's length: 0 at both ends.
func (n note) envelope(x float64) float64 {
	rise := math.Min(1, x*n.length/0.006)
	fall := math.Min(1, (1-x)*n.length/0.012)
	env := smooth(rise) * smooth(fall)
	if n.struck {
		env *= math.Exp(-4 * x)
	}
	return env
}

// breath returns the next sample of noise around 700 Hz that swells and sinks. The seed is
// fixed: an earcon always sounds the same.
func breath() func(x float64) float64 {
	rng := rand.New(rand.NewSource(1))
	// A resonance: two poles of radius r at the angle of 700 Hz.
	const r = 0.97
	a1, a2 := -2*r*math.Cos(2*math.Pi*700/Rate), r*r
	var y1, y2 float64
	return func(x float64) float64 {
		y := rng.NormFloat64()*0.02 - a1*y1 - a2*y2
		y1, y2 = y, y1
		return y * math.Pow(math.Sin(math.Pi*x), 2)
	}
}
