package ears

import (
	"context"
	"math"
	"testing"

	"halocue/audio"
	"halocue/audio/command"
)

func TestEveryCommandIsUnderstood(t *testing.T) { everyCommandIsUnderstood(t, "flite:slt") }
func TestProveEveryCommandIsUnderstood(t *testing.T) {
	everyCommandIsUnderstood(t, "espeak:en-gb-x-rp", "flite:slt")
}

func everyCommandIsUnderstood(t *testing.T, voices ...string) {
	right, all := 0, 0
	for _, voice := range voices {
		e := newEars(t, Config{})
		for _, c := range command.All() {
			all++
			if got := hear(t, e, speak(t, voice, c.Say()), nil); len(got) == 1 && got[0] == c {
				right++
			} else {
				t.Logf("%s: %q was understood as %v", voice, c.Say(), got)
			}
		}
	}
	t.Logf("%d of %d", right, all)
	if float64(right) < 0.95*float64(all) {
		t.Errorf("%d of %d commands were understood", right, all)
	}
}

// Noise that sets in after the wake phrase takes the command for the filler; that the
// wake phrase was there is enough to hear it again.
func TestCommandIsHeardAgain(t *testing.T) {
	r := newEars(t, Config{}).rec.(*twice)
	for _, c := range []command.Command{command.WhichKnob} {
		x := speak(t, "espeak:en-us+f2", c.Say())
		pink(-30)(x[len(x)*9/20:])
		pcm := make([]int16, len(x))
		for i, v := range x {
			pcm[i] = int16(32767 * v)
		}
		if text, err := r.strict.Decode(context.Background(), pcm); err != nil || text != "" {
			t.Errorf("%s: understood at once as %q (%v)", c, text, err)
		}
		if text, err := r.Decode(context.Background(), pcm); err != nil || r.meaning[text] != c {
			t.Errorf("%s: understood as %q (%v)", c, text, err)
		}
		if text, err := r.Decode(context.Background(), append(make([]int16, longestCommand), pcm...)); err != nil || text != "" {
			t.Errorf("%s: in what is too long for a command, %q is understood (%v)", c, text, err)
		}
	}
}

func TestTalkIsNoCommand(t *testing.T) {
	e := newEars(t, Config{})
	for _, talk := range []string{
		"Volume up. Louder please. Stop. Undo that. Skip this one.",
		"Okay, hello, what can I say about the weather tonight? It is all finished, I think.",
		"Could you pass me the other knob? No, the one on the other side. Carry on, I am ready.",
		"Left-hand knob, tighten slightly. Hands off, I am measuring.",
	} {
		if got := hear(t, e, speak(t, "flite:rms", talk), nil); len(got) > 0 {
			t.Errorf("%q was taken for %v", talk, got)
		}
	}
}

// While the program speaks it hears no commands, and its own words least of all.
func TestDeafWhileSpeaking(t *testing.T) {
	x := speak(t, "espeak:en-us", "okay halo, volume up")
	for _, c := range []struct {
		from, to int // frames in which the program speaks
		want     int
	}{{0, 1000, 0}, {0, 0, 1}, {30, 60, 0}} {
		speaking := false
		e := newEars(t, Config{Own: func() Own { return Own{Speaking: speaking} }})
		got := hear(t, e, x, func(n int) { speaking = n >= c.from && n < c.to })
		if len(got) != c.want {
			t.Errorf("program speaks in frames %d to %d: heard %v", c.from, c.to, got)
		}
	}
}

// Attend is called soon after a person begins to speak over the tone, and until the speech
// has ended; the tone alone is no speech.
func TestAttendsToWhoSpeaks(t *testing.T) {
	for _, c := range []struct {
		x    []float64
		want int // times that somebody begins
	}{
		{make([]float64, 5*audio.MicRate), 0},
		{append(make([]float64, 3*audio.MicRate), speak(t, "flite:slt", "okay halo, volume up")...), 1},
	} {
		r := newRoom(-36)
		cfg := r.config()
		frame, began, last := 0, []int{}, -1
		cfg.Attend = func() {
			r.mixer.Attend()
			if frame != last+1 {
				began = append(began, frame)
			}
			last = frame
		}
		got := hear(t, newEars(t, cfg), c.x, func(n int) { frame = n; r.add(c.x, n) })
		if len(began) != c.want {
			t.Fatalf("told from frames %v on, want %d times", began, c.want)
		}
		if c.want == 0 {
			continue
		}
		// The words begin 0.5 s into the clip, softly.
		if began[0] < 175 || began[0] > 190 || last-began[0] < 69 || len(got) != 1 {
			t.Errorf("told in frames %d to %d, heard %v", began[0], last, got)
		}
	}
}

// The program's own tone in the microphone is subtracted.
func TestToneIsSubtracted(t *testing.T) {
	x := make([]float64, 16000)
	const hz = 523.25
	for i := range x {
		x[i] = 0.1*math.Sin(2*math.Pi*hz*float64(i)/16000+1) + 0.03*math.Sin(2*math.Pi*2*hz*float64(i)/16000)
	}
	var c canceller
	for i := 0; i < len(x); i += 320 {
		c.remove(x[i:i+320], hz)
	}
	left := 0.0
	for _, v := range x[8000:] {
		left = math.Max(left, math.Abs(v))
	}
	if left > 0.001 {
		t.Errorf("%.4f of 0.1 is left", left)
	}
}
