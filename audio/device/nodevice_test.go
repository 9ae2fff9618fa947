package device

import (
	"errors"
	"os"
	"os/exec"
	"strings"
	"testing"

	"halocue/audio"
)

// bareMachine is set for a run of this test binary on a machine without sound.
const bareMachine = "HALOCUE_TEST_BARE_MACHINE"

// ALSA reads its settings once in a process, so the machine without a sound device
// is a process of its own.
func TestNoDeviceIsSaidWithARemedy(t *testing.T) {
	if os.Getenv(bareMachine) == "" {
		cmd := exec.Command(os.Args[0], "-test.run=^"+t.Name()+"$", "-test.v")
		// The system's own settings, a sound server that is not there, and a
		// machine without a card.
		cmd.Env = append(os.Environ(), bareMachine+"=1", "ALSA_CONFIG_PATH=", "PULSE_SERVER=unix:/nowhere")
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		for _, noise := range []string{"ALSA", "jack", "JACK", "Expression"} {
			if strings.Contains(string(out), noise) {
				t.Errorf("the libraries were heard on stderr:\n%s", out)
			}
		}
		return
	}
	if _, err := os.Stat("/proc/asound/card0"); err == nil {
		t.Skip("this machine has a sound card")
	}
	_, err := Open(Config{Mixer: audio.NewMixer(audio.Settings{})})
	if !errors.Is(err, ErrNoDevice) {
		t.Fatalf("got %v, want ErrNoDevice", err)
	}
	if !strings.Contains(err.Error(), "--sound FILE.wav") {
		t.Errorf("%q names no remedy", err)
	}
	t.Log(err)
}
