package audio

import "math"

const (
	// Judgement; that the rhythms can be told apart
	// is tested (go test ./audio -run RhythmsAreHeard).
	block       = 32    // samples between two updates of pitch and level: 0.67 ms
	pitchGlide  = 0.060 // s, time constant of the smoothed pitch
	edge        = 0.008 // s, a pulse's rise and fall
	duty        = 0.5   // of a pulse's period that sounds; the same at every rate, so that the loudness is too
	tremoloHz   = 0.4   // of the tremolo
	trillHz     = 9     // of the stop sound's two notes
	trillStep   = -5.0  // semitones from the one to the other
	gallop      = 0.60  // s, period of the inside sound: long, short, rest
	knocks      = 2.4   // s, period of the waiting sound: two short ones and a long rest
	referenceDB = -12.0
)

// oscillator makes the tone. The phase never jumps and the amplitude never steps,
// so there are no clicks.
type oscillator struct {
	m      Mapping
	states [Wait + 1]struct {
		wave   spectrum
		levels levels
	}
	reference levels

	state State // that sounds; a new one waits until this has faded
	tone  Tone  // wanted

	logHz   float64 // smoothed
	phase   float64 // rad
	beat    float64 // position in the rhythm, 0 to 1
	env     float64 // 0 to 1, of the pulse
	on      float64 // 0 to 1, of the state
	tremolo float64 // phase, 0 to 1
	amp     float64 // of the wave, smoothed within a block
	refTurn float64 // phase of the reference, rad
}

func newOscillator(m Mapping, lufs float64) *oscillator {
	o := &oscillator{m: m.withDefaults()}
	sine := spectrum{1}
	for s := Trim; s <= Wait; s++ {
		level := lufs
		if s != Stop { // a rhythm that sounds half of the time reads 3 LU less
			level -= 10 * math.Log10(duty)
		}
		o.states[s].wave = spectrumOf(s, m.Wave)
		from, to := o.m.Low, o.m.High
		if s == Inside || s == Stop || s == Wait {
			to = o.m.Hz(Tone{State: s})
			from = to
		}
		o.states[s].levels = newLevels(o.states[s].wave, o.m.Low, o.m.High, from, to, level)
	}
	at := o.m.Hz(Tone{State: Inside})
	o.reference = newLevels(sine, o.m.Low, o.m.High, at, at, lufs+referenceDB)
	return o
}

// add adds the next samples to out, at most a block of them, under a gain that
// goes evenly from g0 to g1.
func (o *oscillator) add(out [][2]float64, t Tone, g0, g1 float64) {
	if o.m.Mode == WordsOnly {
		t.State = Off
	}
	o.tone = t
	if o.state != t.State && o.on == 0 {
		o.enter(t.State)
	}
	if o.state == Off {
		return
	}
	dt := float64(len(out)) / Rate
	onTarget := 0.0
	if o.state == t.State {
		onTarget = 1
		o.glide(dt)
	}
	rate, sounding := o.rhythm()
	hz, amp := o.pitch()
	amp *= 1 - o.m.tremoloDepth(o.tone)*0.5*(1-math.Cos(2*math.Pi*o.tremolo))
	o.tremolo = fraction(o.tremolo + tremoloHz*dt)

	st := &o.states[o.state]
	refHz := o.m.Hz(Tone{State: Inside})
	refAmp := 0.0
	if o.m.Reference && (o.state == Trim || o.state == Centre) {
		refAmp = o.reference.at(math.Log(refHz))
	}
	const slew = 1 / (edge * Rate)
	n := float64(len(out))
	step := (amp - o.amp) / n
	for i := range out {
		o.amp += step
		o.beat = fraction(o.beat + rate/Rate)
		o.env = toward(o.env, b2f(sounding(o.beat)), slew)
		o.on = toward(o.on, onTarget, slew)
		v := o.amp * smooth(o.env) * st.wave.at(o.phase)
		if refAmp > 0 {
			v += refAmp * math.Sin(o.refTurn)
			o.refTurn = math.Mod(o.refTurn+2*math.Pi*refHz/Rate, 2*math.Pi)
		}
		o.phase += 2 * math.Pi * hz / Rate
		v *= smooth(o.on) * (g0 + (g1-g0)*float64(i)/n)
		out[i][0] += v
		out[i][1] += v
	}
	o.phase = math.Mod(o.phase, 2*math.Pi)
}

// enter starts a state from silence, at once at its own pitch.
func (o *oscillator) enter(s State) {
	o.state, o.env, o.beat = s, 0, 0
	if s == Off {
		return
	}
	o.logHz = math.Log(o.m.Hz(o.tone))
	o.amp = o.states[s].levels.at(o.logHz)
	o.tremolo = 0
}

// glide moves the pitch toward the wanted one.
func (o *oscillator) glide(dt float64) {
	o.logHz += (math.Log(o.m.Hz(o.tone)) - o.logHz) * (1 - math.Exp(-dt/pitchGlide))
}

// rhythm is how many turns a second the beat makes, and when in it the sound is on.
func (o *oscillator) rhythm() (rate float64, sounding func(beat float64) bool) {
	switch o.state {
	case Inside:
		return 1 / gallop, inGallop
	case Stop:
		return trillHz / 2, always
	case Wait:
		return 1 / knocks, inKnocks
	}
	if o.tone.State != o.state { // fading out: the old rhythm no longer matters
		return 0, always
	}
	return o.m.PulsesPerSecond(o.tone), inPulse
}

func inPulse(beat float64) bool  { return beat < duty }
func inGallop(beat float64) bool { return beat < 0.35 || beat >= 0.5 && beat < 0.65 }
func inKnocks(beat float64) bool { return beat < 0.04 || beat >= 0.1 && beat < 0.14 }
func always(float64) bool        { return true }

// pitch is the sounding pitch in Hz and its level.
func (o *oscillator) pitch() (hz, amp float64) {
	logHz := o.logHz
	if o.state == Stop && o.beat >= 0.5 {
		logHz += trillStep / 12 * math.Ln2
	}
	return math.Exp(logHz), o.states[o.state].levels.at(logHz)
}

// sounding is the pitch in Hz, 0 when silent.
func (o *oscillator) sounding() float64 {
	if o.state == Off {
		return 0
	}
	hz, _ := o.pitch()
	return hz
}

func fraction(x float64) float64 { return x - math.Floor(x) }

// toward moves x to the target by at most step.
func toward(x, target, step float64) float64 {
	return x + math.Min(step, math.Max(-step, target-x))
}

// smooth bends a ramp of 0 to 1 so that it starts and ends level.
func smooth(x float64) float64 { return x * x * (3 - 2*x) }

func b2f(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
