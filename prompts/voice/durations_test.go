package voice

import (
	"context"
	"testing"
	"time"

	"halocue/prompts"
)

// Cues are short in every language: "stop" takes under 0.7 s, the turn that is
// said most often 2.5 s, any turn up to one and a half turns 3.5 s, at 170 words
// a minute. With -v it prints the table of TRANSLATING.md.
func TestDurations(t *testing.T) {
	cues := map[string]prompts.Cue{"stop": {Code: "stop"}, "hands off": {Code: "measuring"}, "recentre": {Code: "recentre"}}
	for name, turns := range map[string]float64{"slightly": 0.06, "eighth": 0.125, "half": 0.5, "longest": 0.75} {
		cues[name] = prompts.Cue{Code: "turn", Knob: "left-hand", Direction: "tighten", Turns: turns}
	}
	limits := map[string]float64{"stop": 0.7, "hands off": 2.5, "recentre": 3.5, "slightly": 2.5, "eighth": 3.2, "half": 3.2, "longest": 3.5}
	order := []string{"stop", "slightly", "eighth", "half", "longest", "hands off", "recentre"}
	t.Logf("| language | %v |", order)
	for _, tag := range prompts.Languages() {
		phrases, err := prompts.New(tag, prompts.Normal)
		if err != nil {
			t.Fatal(err)
		}
		espeak, err := Espeak(tag.String(), 170)
		if err != nil {
			t.Fatal(err)
		}
		espeak.Timeout = time.Minute // of a busy machine
		var row []float64
		for _, name := range order {
			text, _, err := phrases.Text(cues[name])
			if err != nil {
				t.Fatal(err)
			}
			pcm, err := espeak.Speak(context.Background(), text)
			if err != nil {
				t.Fatal(err)
			}
			seconds := sounding(pcm)
			if seconds > limits[name] {
				t.Errorf("%s: %q takes %.2f s; want %.1f", tag, text, seconds, limits[name])
			}
			row = append(row, seconds)
		}
		t.Logf("| %s | %.2f |", tag, row)
	}
}

// sounding is the time from the first to the last sample within 46 dB of the loudest.
func sounding(pcm PCM) float64 {
	floor := 0
	for _, v := range pcm.Samples {
		floor = max(floor, int(v), -int(v))
	}
	floor /= 200
	first, last := -1, 0
	for i, v := range pcm.Samples {
		if int(v) > floor || -int(v) > floor {
			if first < 0 {
				first = i
			}
			last = i
		}
	}
	return float64(last-first) / float64(pcm.Rate)
}
