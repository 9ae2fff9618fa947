package audio

import (
	"cmp"
	"math"
	"sync"
	"sync/atomic"

	"github.com/faiface/beep"
)

// Settings of a mixer. The zero value is usable.
type Settings struct {
	Mapping    Mapping
	Volume     float64 // dB relative to the targets below; see VolumeDB
	ToneLUFS   float64 // loudness of the tone; 0 means defaultToneLUFS
	EarconLUFS float64 // loudness of the earcons; 0 means defaultToneLUFS
}

// SpeechLUFS is the loudness to which phrases are brought (see Clip.Levelled): the target
// of EBU R 128, some 9 dB below what music players send. defaultToneLUFS is 5 LU below,
// because the tone lasts for an hour (judgement).
const (
	SpeechLUFS      = -23.0
	defaultToneLUFS = -28.0
)

const (
	// Judgement, but for duckDB.
	ceilingDB  = -3    // dBFS, never exceeded
	duckDB     = -12   // of the tone under words, an earcon, or a person's speech: see docs/sound.md, "Words and tone" and "Commands"
	duckAttack = 0.015 // s
	duckBack   = 0.200 // s
	attentive  = 0.250 // s from a call of Attend
	stopHold   = 0.800 // s after words for which the stop sound stays low: the next cue may follow
	fadeTime   = 0.008 // s, of words that are interrupted
	volumeTime = 0.030 // s
)

// VolumeDB turns a volume from 0 (silent) to 1 (loudest) into decibels relative to
// the loudness targets: 0.3, where everything starts, is 0 dB, and 1 is 12 dB.
func VolumeDB(volume float64) float64 {
	if !(volume > 0) {
		return math.Inf(-1)
	}
	return 23 * math.Log10(math.Min(1, volume)/0.3)
}

// Mixer mixes words, tone and earcons. All methods may be called from any
// goroutine, but only one may pull (Stream or Skip) at a time: a second one gets
// silence, it never waits. Stream neither allocates nor waits for anything.
//
// It is a streamer of the library beep, and so are the notes of the earcons. The mix
// itself is made here: beep's mixer allocates with each call.
type Mixer struct {
	pull    sync.Mutex // held while somebody pulls
	pulled  atomic.Int64
	words   atomic.Pointer[utterance]
	tone    atomic.Pointer[Tone]
	volume  atomic.Uint64          // bits of the linear gain
	pitch   atomic.Uint64          // bits of what sounds now, Hz
	signal  atomic.Bool            // an earcon sounds
	attend  atomic.Int64           // until which sample room is made for who speaks
	earcons chan Earcon            // that wait
	signals [earconCount]utterance // one for each earcon, wound back when it is played

	// Owned by whoever pulls.
	osc      *oscillator
	saying   *utterance // that sounds now
	fading   *utterance // interrupted, dying away
	fadeLeft int
	ringing  *utterance // the earcon that sounds now
	duck     float64
	since    float64 // s since the last word or earcon
	gain     float64
	limit    limiter
}

var _ beep.Streamer = (*Mixer)(nil)

// utterance is a clip on its way out.
type utterance struct {
	clip Clip
	pos  atomic.Int64 // samples that have been pulled
}

func (u *utterance) left() int {
	if u == nil {
		return 0
	}
	return len(u.clip.pcm) - int(u.pos.Load())
}

// NewMixer returns a silent mixer.
func NewMixer(s Settings) *Mixer {
	s.ToneLUFS = cmp.Or(s.ToneLUFS, defaultToneLUFS)
	if s.EarconLUFS == 0 {
		s.EarconLUFS = defaultToneLUFS
	}
	m := &Mixer{earcons: make(chan Earcon, 8), osc: newOscillator(s.Mapping, s.ToneLUFS), duck: 1, since: stopHold, limit: newLimiter(ceilingDB)}
	for e := range m.signals {
		m.signals[e].clip = Earcon(e).Clip().Levelled(s.EarconLUFS)
	}
	m.tone.Store(&Tone{})
	m.SetVolume(s.Volume)
	m.gain = m.wantedGain()
	return m
}

// Say starts to play words with the next sample. Words that are still being played are
// cut off with a short fade.
func (m *Mixer) Say(c Clip) { m.say(&utterance{clip: c}) }

// Hush cuts off what is being said.
func (m *Mixer) Hush() { m.say(nil) }

func (m *Mixer) say(u *utterance) {
	if old := m.words.Swap(u); old != nil && old.clip.aloud != nil {
		old.clip.aloud.cut()
	}
	if u != nil && u.clip.aloud != nil {
		u.clip.aloud.begin()
	}
}

// Speaking says whether words are being said, and how many samples of them are
// still to be pulled.
func (m *Mixer) Speaking() (speaking bool, left int) {
	left = m.words.Load().left()
	return left > 0, left
}

// SetTone changes the tone.
func (m *Mixer) SetTone(t Tone) { m.tone.Store(&t) }

// Tone is the tone as it was last set.
func (m *Mixer) Tone() Tone { return *m.tone.Load() }

// Sounding is what leaves the mixer at this moment, for whoever listens with a
// microphone: whether words or an earcon, and the pitch of the tone in Hz, 0 for
// none.
func (m *Mixer) Sounding() (speaking bool, hz float64) {
	speaking, _ = m.Speaking()
	return speaking || m.signal.Load(), math.Float64frombits(m.pitch.Load())
}

// Attend lowers the tone for a moment, as words do. Call it again and again while a
// person speaks, so that the microphone hears them well, and they notice. It ends by
// itself, so that a microphone that fails does not leave the tone low.
func (m *Mixer) Attend() { m.attend.Store(m.pulled.Load() + int64(samples(attentive))) }

// Mapping is how the tone sounds.
func (m *Mixer) Mapping() Mapping { return m.osc.m }

// Play sounds an earcon, after those that still wait. When eight are waiting it is
// dropped.
func (m *Mixer) Play(e Earcon) {
	select {
	case m.earcons <- e:
	default:
	}
}

// SetVolume sets the volume in decibels relative to the loudness targets; -Inf is
// silence. The limiter stays where it is.
func (m *Mixer) SetVolume(db float64) { m.volume.Store(math.Float64bits(fromDB(db))) }

// Volume is the volume in decibels.
func (m *Mixer) Volume() float64 { return toDB(m.wantedGain()) }

func (m *Mixer) wantedGain() float64 { return math.Float64frombits(m.volume.Load()) }

// Time is the number of seconds that have been pulled: the next sample's time.
func (m *Mixer) Time() float64 { return float64(m.pulled.Load()) / Rate }

// Stream fills out with the next samples, and never ends.
func (m *Mixer) Stream(out [][2]float64) (n int, ok bool) {
	clear(out)
	if !m.pull.TryLock() {
		return len(out), true
	}
	defer m.pull.Unlock()
	for rest := out; len(rest) > 0; {
		n := min(block, len(rest))
		m.block(rest[:n])
		rest = rest[n:]
	}
	m.signal.Store(m.ringing.left() > 0)
	m.pitch.Store(math.Float64bits(m.osc.sounding()))
	m.pulled.Add(int64(len(out)))
	return len(out), true
}

// Err is always nil.
func (m *Mixer) Err() error { return nil }

// Skip drops n samples: words and earcons move on as if they had been played.
func (m *Mixer) Skip(n int) {
	if !m.pull.TryLock() {
		return
	}
	defer m.pull.Unlock()
	m.take()
	m.fadeLeft = 0
	for _, u := range []*utterance{m.saying, m.ringing} {
		if u != nil {
			u.pos.Add(int64(min(n, u.left())))
		}
	}
	m.pulled.Add(int64(n))
}

// take picks up what has been asked for since the last block.
func (m *Mixer) take() {
	if w := m.words.Load(); w != m.saying && m.fadeLeft == 0 {
		if m.saying.left() > 0 {
			m.fading, m.fadeLeft = m.saying, samples(fadeTime)
		}
		m.saying = w
	}
	if m.ringing.left() == 0 {
		select {
		case e := <-m.earcons:
			m.ringing = &m.signals[e]
			m.ringing.pos.Store(0)
		default:
		}
	}
}

// block mixes at most a block of samples into out, which is silent.
func (m *Mixer) block(out [][2]float64) {
	m.take()
	dt := float64(len(out)) / Rate
	m.since += dt
	if m.saying.left() > 0 || m.ringing.left() > 0 {
		m.since = 0
	}
	tone := *m.tone.Load()
	wanted := 1.0
	if m.since == 0 || m.pulled.Load() < m.attend.Load() || tone.State == Stop && m.since < stopHold {
		wanted = fromDB(duckDB)
	}
	before := m.duck
	m.duck = approach(m.duck, wanted, dt, duckAttack, duckBack)
	m.osc.add(out, tone, before, m.duck)

	m.saying.addTo(out)
	m.ringing.addTo(out)
	if m.fadeLeft > 0 {
		m.fade(out)
	}

	from := m.gain
	m.gain = approach(m.gain, m.wantedGain(), dt, volumeTime, volumeTime)
	for i := range out {
		g := from + (m.gain-from)*float64(i)/float64(len(out))
		v := m.limit.next(out[i][0] * g)
		out[i] = [2]float64{v, v}
	}
}

// addTo adds the next samples of the clip.
func (u *utterance) addTo(out [][2]float64) {
	if u == nil {
		return
	}
	pos := int(u.pos.Load())
	n := min(len(out), len(u.clip.pcm)-pos)
	for i := range n {
		v := float64(u.clip.pcm[pos+i]) / fullScale
		out[i][0] += v
		out[i][1] += v
	}
	u.pos.Add(int64(n))
}

// fade adds the dying end of words that were cut off.
func (m *Mixer) fade(out [][2]float64) {
	pos, total := int(m.fading.pos.Load()), float64(samples(fadeTime))
	n := min(len(out), m.fadeLeft, len(m.fading.clip.pcm)-pos)
	for i := range n {
		v := float64(m.fading.clip.pcm[pos+i]) / fullScale * smooth(float64(m.fadeLeft-i)/total)
		out[i][0] += v
		out[i][1] += v
	}
	m.fading.pos.Add(int64(n))
	m.fadeLeft -= n
	if n < len(out) {
		m.fadeLeft = 0
	}
}

// approach moves x toward a target with a time constant for falling and one for
// rising.
func approach(x, target, dt, falling, rising float64) float64 {
	tau := rising
	if target < x {
		tau = falling
	}
	return x + (target-x)*(1-math.Exp(-dt/tau))
}
