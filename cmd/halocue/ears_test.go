package main

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"halocue/audio/device/devicetest"
	"halocue/internal/run/parts"
)

// What is said to the microphone is done: the whole program by the wall clock, a
// private sound server, and a voice in its microphone. Whoever is not heard, since
// the program spoke at that moment, says it again.
func TestSpokenCommandIsDone(t *testing.T) {
	dir, err := os.MkdirTemp("", "ears") // a socket's path must be short
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(dir)
	for _, name := range []string{"XDG_RUNTIME_DIR", "PULSE_SERVER", "ALSA_CONFIG_PATH"} {
		t.Setenv(name, "") // and put back after the test
	}
	server, err := devicetest.Start(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer server.Kill()
	spoken := filepath.Join(dir, "say.wav")
	out, err := exec.Command("sh", "-c", `espeak-ng -v en-us -s 165 --stdout "okay halo, volume up" | sox -q -t wav --ignore-length - "$0" rate 16000 gain -3 pad 0.2 0.9`, spoken).CombinedOutput()
	if err != nil {
		t.Fatalf("espeak-ng and sox (packages espeak-ng, sox): %v: %s", err, out)
	}
	transcript := filepath.Join(dir, "night.jsonl")
	ctx, cancel := context.WithTimeout(context.Background(), 180*time.Second)
	defer cancel()
	var said, complaints bytes.Buffer
	ended := make(chan int, 1)
	go func() {
		a := &app{parts.World{Stdin: strings.NewReader(""), Stdout: &said, Stderr: &complaints, Env: []string{"HOME=" + dir}}}
		ended <- a.run(ctx, []string{"guide", "--camera", "virtual:3", "--fps", "1", "--microphone", "--transcript", transcript})
	}()
	understood := func() bool {
		text, _ := os.ReadFile(transcript) // it may not be there yet
		return bytes.Contains(text, []byte(`"event":"command","command":"louder"`))
	}
	for ctx.Err() == nil && !understood() {
		time.Sleep(1500 * time.Millisecond)
		if err := server.Say(spoken); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Second)
	}
	heard := understood()
	cancel()
	if status := <-ended; status != statusOK || !heard {
		t.Errorf("understood: %v, status %d\n%s%s", heard, status, said.String(), complaints.String())
	}
}
