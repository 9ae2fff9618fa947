package voice

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"halocue/audio"
)

// dispatcher starts a speech-dispatcher of its own, which writes what it says
// into a file in place of a sound card, and does so at once and not in real time.
func dispatcher(t *testing.T) (d *Dispatcher, recording string) {
	t.Helper()
	program, err := exec.LookPath("speech-dispatcher")
	if err != nil {
		t.Fatal("speech-dispatcher is not installed; make deps installs it")
	}
	dir := t.TempDir()
	recording = filepath.Join(dir, "said.wav")
	socket := filepath.Join(dir, "s")
	for name, text := range map[string]string{
		"alsa.conf": fmt.Sprintf(`pcm.!default { type plug slave { pcm { type file slave.pcm { type null } file %q format "wav" }
			format S16_LE rate 22050 channels 1 } }`, recording),
		"speechd.conf":           "AudioOutputMethod \"alsa\"\nAddModule \"espeak-ng\" \"sd_espeak-ng\" \"espeak-ng.conf\"\nDefaultModule espeak-ng\nLogLevel 1\n",
		"modules/espeak-ng.conf": "Debug 0\n",
	} {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	cmd := exec.Command(program, "-s", "-C", dir, "-L", dir, "-P", filepath.Join(dir, "pid"), "-c", "unix_socket", "-S", socket, "-t", "0")
	cmd.Env = append(os.Environ(), "ALSA_CONFIG_PATH="+filepath.Join(dir, "alsa.conf"), "XDG_RUNTIME_DIR="+dir)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = cmd.Process.Signal(os.Interrupt)
		_ = cmd.Wait()
	})
	for range 100 {
		d, err = dialDispatcher(context.Background(), DispatcherConfig{Network: "unix", Address: socket, Language: "en", WPM: 160})
		if err == nil {
			t.Cleanup(func() { _ = d.Close() })
			return d, recording
		}
		time.Sleep(100 * time.Millisecond)
	}
	t.Fatal(err)
	return nil, ""
}

// The real speech-dispatcher says the words and reports when they have ended.
func TestDispatcher(t *testing.T) {
	d, recording := dispatcher(t)
	before, err := d.Speak(context.Background(), cue)
	if err != nil || len(before.Samples) < before.Rate {
		t.Errorf("%d samples, %v: want a silence of a likely length", len(before.Samples), err)
	}
	if err := d.Say(cue); err != nil {
		t.Fatal(err)
	}
	for i := 0; d.Speaking(); i++ {
		if i > 100 {
			t.Fatal("the end of the words is not noticed")
		}
		time.Sleep(20 * time.Millisecond)
	}
	said, err := os.ReadFile(recording)
	if err != nil {
		t.Fatal(err)
	}
	pcm, err := decode(bytes.Clone(said))
	if err != nil || pcm.Rate != 22050 || len(pcm.Samples) < pcm.Rate {
		t.Fatalf("recorded %d samples at %d, %v; want the words", len(pcm.Samples), pcm.Rate, err)
	}
	if err := d.Say("This is a long story that somebody cuts short before it comes to its end."); err != nil {
		t.Fatal(err)
	}
	if err := d.Hush(); err != nil || d.Speaking() {
		t.Errorf("hushed: %v, speaking %v", err, d.Speaking())
	}
	if err := d.Say(".A text that begins with the mark that ends a text.\r\n.\r\nQUIT"); err != nil {
		t.Error(err)
	}
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	if err := d.Say(cue); err == nil || d.Speaking() {
		t.Errorf("said on a closed line: %v", err)
	}
}

// As a voice of a night: the mixer is silent, the words come from elsewhere, and are
// understood; when speech-dispatcher dies the next voice speaks, and that is reported.
func TestDispatcherAsTheNightsVoice(t *testing.T) {
	// Its own English voice is a British one, that says "half" as the listener does not.
	const cue = "Push the tube: star to the middle."
	d, recording := dispatcher(t)
	espeak, err := Espeak("en", 160)
	if err != nil {
		t.Fatal(err)
	}
	var reported []error
	d.c.Report = func(err error) { reported = append(reported, err) }
	s := NewSpeaker(newFallback(d.c.Report, d, espeak))
	mixer := audio.NewMixer(audio.Settings{})
	say := func() audio.Clip {
		t.Helper()
		clip, err := s.Clip(context.Background(), cue)
		if err != nil {
			t.Fatal(err)
		}
		mixer.Say(clip)
		return clip
	}
	if clip := say(); clip.Peak() > 0 || clip.Seconds() < 1.5 || !d.Speaking() {
		t.Errorf("%.2f s, peak %g, speaking %v: want a silence, and words from elsewhere", clip.Seconds(), clip.Peak(), d.Speaking())
	}
	for i := 0; d.Speaking(); i++ {
		if i > 100 {
			t.Fatal("the end of the words is not noticed")
		}
		time.Sleep(20 * time.Millisecond)
	}
	said, err := os.ReadFile(recording)
	if err != nil {
		t.Fatal(err)
	}
	pcm, err := decode(said)
	if err != nil {
		t.Fatal(err)
	}
	program, err := exec.LookPath("pocketsphinx_batch")
	if err != nil {
		t.Fatal(err)
	}
	if got := listen(t, program, cueGrammar, "", recorded(pcm), []string{cue})[0]; !slices.Equal(words(got), words(cue)) {
		t.Errorf("heard %q, want %q", got, cue)
	}
	d.lose()
	d.c.Network, d.c.Address = "unix", filepath.Join(t.TempDir(), "nobody")
	if clip := say(); clip.Peak() == 0 || len(reported) != 1 || !strings.Contains(reported[0].Error(), "speech-dispatcher") {
		t.Errorf("after speech-dispatcher died: peak %g, reported %v", clip.Peak(), reported)
	}
}

// recorded is a voice that says what was recorded, whatever it is asked for.
type recorded PCM

func (r recorded) Speak(context.Context, string) (PCM, error) { return PCM(r), nil }
