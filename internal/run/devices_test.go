package run

import (
	"bytes"
	"context"
	"strings"
	"testing"

	"halocue/internal/cue"
	"halocue/prompts"
)

// What is back is said where its absence was heard, and once.
func TestWhatIsBackIsSaid(t *testing.T) {
	var out bytes.Buffer
	n := begin(parts(t, newDream(3), &out))
	lost := DeviceEvent{Device: "camera", State: "lost", Code: "camera-lost", On: true}
	back := DeviceEvent{Device: "camera", State: "back", Code: "camera-lost"}
	n.device(0, lost)
	n.device(0.1, back) // nobody has heard that it was away
	n.device(20, lost)
	run(n, 20, 30)
	n.device(30, back)
	run(n, 30, 40)
	if got := strings.Count(out.String(), `"code":"camera-back"`); n.failure != nil || got != 1 {
		t.Errorf("said %d times, %v:\n%s", got, n.failure, out.String())
	}
}

// How the night ended is said again if the sound was away when it was said.
func TestTheEndIsHeard(t *testing.T) {
	var out bytes.Buffer
	n := begin(parts(t, newDream(3), &out))
	n.device(0, DeviceEvent{Device: "sound", State: "lost", Code: "sound-lost", On: true})
	n.note(n.Narrator.Add(1, prompts.Cue{Code: "done", Action: "done", Result: cue.Aligned}))
	run(n, 1, 30)
	if n.finished {
		t.Fatal("the night was over before anybody heard how it ended")
	}
	n.device(30, DeviceEvent{Device: "sound", State: "back", Code: "sound-lost"})
	run(n, 30, 45)
	text := out.String()
	if !n.finished || strings.Count(text, `"result":"aligned"`) != 2 || !strings.Contains(text, `"code":"sound-back"`) {
		t.Errorf("finished %v, after:\n%s", n.finished, text)
	}
}

// A sound device that comes and goes takes up no more than one sentence a minute.
func TestSoundThatComesAndGoes(t *testing.T) {
	var out bytes.Buffer
	n := begin(parts(t, newDream(3), &out))
	for t := 1.0; t < 100; t += 10 {
		n.device(t, DeviceEvent{Device: "sound", State: "lost", Code: "sound-lost", On: true})
		n.device(t+1, DeviceEvent{Device: "sound", State: "back", Code: "sound-lost"})
		run(n, t+1, t+10)
	}
	if got := strings.Count(out.String(), `"code":"sound-back"`); got != 2 {
		t.Errorf("said %d times in 100 s:\n%s", got, out.String())
	}
}

// run lets the words be said from one second to another.
func run(n *night, from, to float64) {
	for t := from; t < to; t += 0.1 {
		n.speak(context.Background(), t)
	}
}
