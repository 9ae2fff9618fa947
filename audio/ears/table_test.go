package ears

import (
	"fmt"
	"math"
	"math/rand"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"halocue/audio"
	"halocue/audio/command"
)

// BenchmarkRecognition is the table of the documentation: per cent of commands
// understood by thirteen voices, and of other commands understood instead, in
// quiet, in noise, and with the program's own tone in the microphone.
//
//	go test -run XXX -bench Recognition -benchtime 1x ./audio/ears
func BenchmarkRecognition(b *testing.B) {
	for _, c := range []struct {
		name string
		add  func(x []float64)
		tone float64 // dB relative to the voice; 0 for none
	}{
		{"quiet", nil, 0},
		{"pink-20dB", pink(-46), 0},
		{"pink-10dB", pink(-36), 0},
		{"wind-10dB", brown(-36, windCorner), 0},
		{"wind-0dB", brown(-26, windCorner), 0},
		{"brown-0dB", brown(-26, 5), 0},
		{"own-tone-20dB", nil, -20},
		{"own-tone-10dB", nil, -10},
	} {
		b.Run(c.name, func(b *testing.B) {
			right, wrong, all := 0, 0, 0
			for b.Loop() {
				for _, voice := range voices {
					for _, wanted := range command.All() {
						// Ears have known the room for a while when somebody speaks.
						x := append(make([]float64, 2*audio.MicRate), speak(b, voice, wanted.Say())...)
						if c.add != nil {
							c.add(x)
						}
						cfg, before := Config{}, func(int) {}
						if c.tone != 0 {
							r := newRoom(-26 + c.tone)
							cfg, before = r.config(), func(n int) { r.add(x, n) }
						}
						got := hear(b, newEars(b, cfg), x, before)
						all++
						if len(got) != 1 || got[0] != wanted {
							b.Logf("%s: %q was understood as %v", voice, wanted.Say(), got)
						}
						for _, g := range got {
							if g == wanted {
								right++
							} else {
								wrong++
							}
						}
					}
				}
			}
			b.ReportMetric(100*float64(right)/float64(all), "%right")
			b.ReportMetric(100*float64(wrong)/float64(all), "%wrong")
		})
	}
}

// room is a loudspeaker near the microphone: what the mixer sounds comes 80 ms late and
// with an echo.
type room struct {
	mixer *audio.Mixer
	gain  float64
	pcm   []float64 // what left the mixer, at audio.MicRate
}

const late = 0.080 // s

// newRoom has a tone that follows a knob being turned, at a level in dBFS (RMS).
func newRoom(db float64) *room {
	loud := &room{mixer: audio.NewMixer(audio.Settings{}), gain: 1}
	for n := range 250 {
		loud.next(n)
	}
	return &room{mixer: audio.NewMixer(audio.Settings{}), gain: math.Pow(10, db/20) / loudRMS(loud.pcm)}
}

// next lets the mixer go on by frame n.
func (r *room) next(n int) {
	s := float64(n) * frame
	r.mixer.SetTone(audio.Tone{State: audio.Trim, Error: 3 * math.Exp(-0.3*s), Sigma: 0.2})
	buf := make([][2]float64, int(audio.Rate*frame))
	r.mixer.Stream(buf)
	for k := 0; k < len(buf); k += audio.Rate / audio.MicRate {
		r.pcm = append(r.pcm, r.gain*buf[k][0])
	}
}

// add puts what is heard of the mixer during frame n into x.
func (r *room) add(x []float64, n int) {
	r.next(n)
	size := len(audio.Frame{})
	for i := n * size; i < min((n+1)*size, len(x)); i++ {
		if at := i - int(late*audio.MicRate); at >= 0 {
			x[i] += r.pcm[at]
		}
		if at := i - int((late+0.040)*audio.MicRate); at >= 0 {
			x[i] += 0.3 * r.pcm[at]
		}
	}
}

// config is for ears in the room, that know the delay.
func (r *room) config() Config {
	return Config{
		Delay:  late,
		Attend: r.mixer.Attend,
		Own: func() (own Own) {
			own.Speaking, own.Hz = r.mixer.Sounding()
			return own
		},
	}
}

// windCorner in Hz leaves wind a sixteenth of its power above 400 Hz, where the voice
// is told from it; plain brown noise has a hundredth there.
const windCorner = 38

// brown is noise of an RMS level in dBFS that falls 6 dB an octave above a corner in Hz.
func brown(db, corner float64) func([]float64) {
	return func(x []float64) {
		rng := rand.New(rand.NewSource(5))
		pole := 1 - 2*math.Pi*corner/audio.MicRate
		y, gain := 0.0, math.Pow(10, db/20)*math.Sqrt(1-pole*pole)
		for i := range x {
			y = pole*y + gain*rng.NormFloat64()
			x[i] += y
		}
	}
}

// pink adds noise that falls 3 dB an octave: the sum of sources that change ever
// more seldom (Voss's method; Gardner, Scientific American, April 1978).
func pink(db float64) func([]float64) {
	return func(x []float64) {
		rng := rand.New(rand.NewSource(6))
		var source [12]float64
		gain := math.Pow(10, db/20) / math.Sqrt(float64(len(source)))
		for i := range x {
			sum := 0.0
			for k := range source {
				if i%(1<<k) == 0 {
					source[k] = rng.NormFloat64()
				}
				sum += source[k]
			}
			x[i] += gain * sum
		}
	}
}

// BenchmarkFalseAlarms counts commands heard in ten minutes of what is none: a
// woman's recorded prompts (Debian's asterisk-core-sounds-en-g722), synthetic talk,
// gusty wind, and the program's own sentences and tone.
func BenchmarkFalseAlarms(b *testing.B) {
	for _, c := range []struct {
		name  string
		sound func(b *testing.B) []float64
	}{
		{"recorded-talk", recordedTalk}, {"synthetic-talk", syntheticTalk}, {"gusty-wind", gusts}, {"own-cues", ownCues},
	} {
		b.Run(c.name, func(b *testing.B) {
			alarms := 0
			x := c.sound(b)[:600*audio.MicRate]
			for b.Loop() {
				got := hear(b, newEars(b, Config{}), x, nil)
				alarms += len(got)
				b.Logf("%v", got)
			}
			b.ReportMetric(float64(alarms), "alarms/10min")
		})
	}
}

func recordedTalk(b *testing.B) (x []float64) {
	files, err := filepath.Glob("/usr/share/asterisk/sounds/en_US_f_Allison/*.g722")
	if err != nil || len(files) < 100 {
		b.Skip("recordings of a real voice are not installed: apt-get install asterisk-core-sounds-en-g722")
	}
	for i := 0; len(x) < 600*audio.MicRate; i++ {
		out, err := exec.Command("ffmpeg", "-v", "error", "-i", files[i%len(files)], "-f", "s16le", "-ar", "16000", "-ac", "1", "-").Output()
		if err != nil {
			b.Fatal(err)
		}
		x = append(x, toLevel(samples16(out), -26)...)
		x = append(x, make([]float64, 8000)...)
	}
	return x
}

func syntheticTalk(b *testing.B) (x []float64) {
	text, err := os.ReadFile("/usr/share/common-licenses/GPL-3")
	if err != nil {
		b.Skip("no long text at hand: this system has no /usr/share/common-licenses")
	}
	sentences := strings.SplitAfter(strings.Join(strings.Fields(string(text)), " "), ". ")
	for i := 0; len(x) < 600*audio.MicRate; i++ {
		x = append(x, speak(b, voices[i%len(voices)], sentences[10+i])...)
	}
	return x
}

func gusts(*testing.B) []float64 {
	x := make([]float64, 600*audio.MicRate)
	brown(-30, windCorner)(x)
	for i := range x {
		s := float64(i) / audio.MicRate
		x[i] *= 1.2 + math.Sin(0.9*s)*math.Sin(0.37*s)
		if phase := math.Mod(s, 3.7); phase < 0.15 { // a thump
			x[i] += 0.3 * math.Sin(2*math.Pi*50*phase) * math.Exp(-phase*20)
		}
	}
	return x
}

func ownCues(b *testing.B) (x []float64) {
	for i := 0; len(x) < 600*audio.MicRate; i++ {
		text := fmt.Sprintf("%s knob, %s %s.", []string{"Left-hand", "Upper", "Right-hand"}[i%3],
			[]string{"tighten", "loosen"}[i%2], []string{"slightly", "a little", "a quarter turn", "half a turn"}[i%4])
		if i%5 == 4 {
			text = []string{"Stop. Hands off.", "Which knob is that? The upper one.", "Say again, if you like.", "All finished: it is aligned."}[i/5%4]
		}
		clip := speak(b, "espeak:en-us", text)
		r := newRoom(-38)
		for n := range len(clip)/len(audio.Frame{}) + 1 {
			r.add(clip, n)
		}
		x = append(x, clip...)
	}
	return x
}
