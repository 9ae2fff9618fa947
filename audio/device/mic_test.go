package device

import (
	"context"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/gordonklaus/portaudio"

	"halocue/audio"
	"halocue/audio/command"
	"halocue/audio/ears"
)

// A command that is spoken to PortAudio's microphone is understood, while the
// program's own tone plays into the same room.
func TestCommandThroughTheMicrophone(t *testing.T) {
	spoken := filepath.Join(t.TempDir(), "say.wav")
	out, err := exec.Command("sh", "-c", `espeak-ng -v en-us -s 165 --stdout "okay halo, volume up" | sox -q -t wav --ignore-length - "$0" rate 16000 gain -3 pad 0.2 0.9`, spoken).CombinedOutput()
	if err != nil {
		t.Fatalf("espeak-ng and sox (packages espeak-ng, sox): %v: %s", err, out)
	}
	d := audio.NewMixer(audio.Settings{})
	d.SetTone(audio.Tone{State: audio.Trim, Error: 2})
	c, l := open(t, Config{Mixer: d, Microphone: true})
	e, err := ears.New(ears.Config{Delay: c.Delay() + 0.04, Own: func() (own ears.Own) {
		own.Speaking, own.Hz = d.Sounding()
		return own
	}})
	if err != nil {
		t.Fatal(err)
	}
	defer e.Close()
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	heard := make(chan ears.Heard, 4)
	ended := make(chan error, 1)
	go func() { ended <- e.Run(ctx, c.Heard(), func(h ears.Heard) { heard <- h }) }()
	time.Sleep(500 * time.Millisecond)
	if err := server.Say(spoken); err != nil {
		t.Fatal(err)
	}
	select {
	case h := <-heard:
		if h.Command != command.Louder {
			t.Errorf("understood %q", h.Command)
		}
	case <-ctx.Done():
		t.Errorf("nothing was understood; %d frames dropped, events %v", c.overRuns.Load(), l.all)
	}
	cancel()
	if err := <-ended; err != nil {
		t.Error(err)
	}
}

// A card without a microphone is still a card.
func TestNoMicrophoneIsSaid(t *testing.T) {
	d := audio.NewMixer(audio.Settings{})
	_, l := open(t, Config{Mixer: d, Microphone: true, Input: "no such microphone"})
	l.wait(t, NoMic, patience)
}

// The output callback allocates nothing, with words, tone and an earcon sounding.
func TestCallbackDoesNotAllocate(t *testing.T) {
	d := audio.NewMixer(audio.Settings{})
	d.SetTone(audio.Tone{State: audio.Trim, Error: 2, Sigma: 1})
	d.Play(audio.StarLost)
	c := &Card{cfg: Config{Mixer: d}}
	callback := c.player(2, 0)
	out := make([]float32, 2*framesPerBuffer)
	loud := false
	n := testing.AllocsPerRun(100, func() {
		callback(out, portaudio.StreamCallbackTimeInfo{}, 0)
		for _, v := range out {
			loud = loud || v != 0
		}
	})
	if n != 0 {
		t.Errorf("%v allocations in a callback", n)
	}
	if !loud {
		t.Error("it plays nothing")
	}
}
