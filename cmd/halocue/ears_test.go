package main

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"halocue/audio/device/devicetest"
)

// What is said to the microphone is done: the real program by the wall clock, a
// private sound server, and a voice in its microphone. Whoever is not heard, since
// the program spoke at that moment, says it again.
func TestSpokenCommandIsDone(t *testing.T) {
	t.Parallel()                         // it waits by the clock
	dir, err := os.MkdirTemp("", "ears") // a socket's path must be short
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(dir)
	server, err := devicetest.Launch(dir)
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
	ctx, cancel := context.WithTimeout(t.Context(), 180*time.Second)
	defer cancel()
	var said bytes.Buffer
	cmd := exec.CommandContext(t.Context(), "halocue", "guide", "--camera", "virtual:3", "--fps", "1", "--speed-wpm", "450", "--microphone", "--transcript", transcript)
	cmd.Env = append(append(os.Environ(), server.Env()...), "HOME="+dir)
	cmd.Stdout, cmd.Stderr = &said, &said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	understood := func() bool {
		text, _ := os.ReadFile(transcript) // it may not be there yet
		return bytes.Contains(text, []byte(`"event":"command","command":"louder"`))
	}
	for ctx.Err() == nil && !understood() {
		time.Sleep(1500 * time.Millisecond)
		if err := server.Say(spoken); err != nil {
			t.Error(err)
			break
		}
		time.Sleep(time.Second)
	}
	heard := understood()
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		t.Error(err)
	}
	if err := cmd.Wait(); err != nil || !heard {
		t.Errorf("understood: %v, %v\n%s", heard, err, said.String())
	}
}
