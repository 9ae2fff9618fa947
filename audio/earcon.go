package audio

import (
	"math"
	"math/rand"
	"sync"
	"sync/atomic"
)

// Earcon is a short signal with one meaning.
type Earcon int

// The earcons. They differ in contour, rhythm and timbre, not only in pitch.
const (
	StarLost Earcon = iota
	StarFound
	Leaving
	Clouded
	DeviceTrouble
	Understood
	NotUnderstood
	Finished
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

// Describe says in plain English what is heard.
func (e Earcon) Describe() string { return earcons[e].heard }

// Clip is its sound, not yet levelled.
func (e Earcon) Clip() Clip {
	notes := earcons[e].notes
	length := 0.0
	for _, n := range notes {
		length = math.Max(length, n.at+n.length)
	}
	pcm := make([]float32, samples(length))
	for _, n := range notes {
		n.addTo(pcm[samples(n.at):])
	}
	return Clip{pcm: pcm}
}

// note is one sound of an earcon: a pitch that may glide, or a breath of noise.
type note struct {
	at, length float64 // s
	from, to   float64 // Hz; 0 is noise
	wave       spectrum
	struck     bool // dies away like a struck bar, else is held
}

var (
	plain = spectrum{1, 0.2}
	buzz  = spectrum{1, 0.8, 0.7, 0.6, 0.5}
	wood  = spectrum{1, 0, 0, 0.6}
)

var earcons = [earconCount]struct {
	code, heard string
	notes       []note
}{
	StarLost: {"star-lost", "two held notes, falling", []note{
		{0, 0.20, 659.26, 659.26, plain, false}, {0.22, 0.40, 440, 440, plain, false}}},
	StarFound: {"star-found", "two quick notes, rising", []note{
		{0, 0.10, 587.33, 587.33, plain, true}, {0.11, 0.25, 880, 880, plain, true}}},
	Leaving: {"leaving-the-frame", "four quick knocks on wood", []note{
		{0, 0.07, 520, 520, wood, true}, {0.11, 0.07, 520, 520, wood, true},
		{0.22, 0.07, 520, 520, wood, true}, {0.33, 0.07, 520, 520, wood, true}}},
	Clouded: {"clouded", "a soft breath of noise that swells and sinks", []note{
		{0, 0.90, 0, 0, plain, false}}},
	DeviceTrouble: {"device-trouble", "two low buzzes", []note{
		{0, 0.22, 233.08, 233.08, buzz, false}, {0.32, 0.22, 233.08, 233.08, buzz, false}}},
	Understood: {"understood", "one short high blip", []note{
		{0, 0.09, 1046.50, 1046.50, plain, true}}},
	NotUnderstood: {"not-understood", "one note that glides down and up again", []note{
		{0, 0.20, 500, 330, plain, false}, {0.20, 0.20, 330, 500, plain, false}}},
	Finished: {"finished", "four notes, climbing a chord", []note{
		{0, 0.14, 523.25, 523.25, plain, true}, {0.14, 0.14, 659.26, 659.26, plain, true},
		{0.28, 0.14, 783.99, 783.99, plain, true}, {0.42, 0.60, 1046.50, 1046.50, plain, true}}},
}

// addTo adds the note to the beginning of pcm.
func (n note) addTo(pcm []float32) {
	pcm = pcm[:samples(n.length)]
	if n.from == 0 {
		breathe(pcm)
		return
	}
	phase := 0.0
	for i := range pcm {
		x := float64(i) / float64(len(pcm))
		hz := n.from * math.Pow(n.to/n.from, x)
		phase += 2 * math.Pi * hz / Rate
		pcm[i] += float32(n.wave.at(phase) * n.envelope(x))
	}
}

// envelope is the loudness at x, 0 to 1 of the note's length: it starts and ends
// at nothing.
func (n note) envelope(x float64) float64 {
	rise := math.Min(1, x*n.length/0.006)
	fall := math.Min(1, (1-x)*n.length/0.012)
	env := smooth(rise) * smooth(fall)
	if n.struck {
		env *= math.Exp(-4 * x)
	}
	return env
}

// breathe adds noise around 700 Hz that swells and sinks. The seed is fixed: an
// earcon always sounds the same.
func breathe(pcm []float32) {
	rng := rand.New(rand.NewSource(1))
	// A resonance: two poles of radius r at the angle of 700 Hz.
	const r = 0.97
	a1, a2 := -2*r*math.Cos(2*math.Pi*700/Rate), r*r
	var y1, y2 float64
	for i := range pcm {
		y := rng.NormFloat64()*0.02 - a1*y1 - a2*y2
		y1, y2 = y, y1
		x := float64(i) / float64(len(pcm))
		pcm[i] += float32(y * math.Pow(math.Sin(math.Pi*x), 2))
	}
}

// earconQueue holds the earcons that wait. Pushing takes a lock that only pushers
// share; popping takes none.
type earconQueue struct {
	pushing    sync.Mutex
	ring       [8]atomic.Int32
	head, tail atomic.Uint32
}

func (q *earconQueue) push(e Earcon) {
	q.pushing.Lock()
	defer q.pushing.Unlock()
	if tail := q.tail.Load(); tail-q.head.Load() < uint32(len(q.ring)) {
		q.ring[tail%uint32(len(q.ring))].Store(int32(e))
		q.tail.Store(tail + 1)
	}
}

func (q *earconQueue) pop() (Earcon, bool) {
	head := q.head.Load()
	if head == q.tail.Load() {
		return 0, false
	}
	e := Earcon(q.ring[head%uint32(len(q.ring))].Load())
	q.head.Store(head + 1)
	return e, true
}
