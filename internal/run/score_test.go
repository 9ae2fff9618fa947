package run

import (
	"bytes"
	"context"
	"encoding/json"
	"strconv"
	"strings"
	"testing"

	"halocue/audio"
	"halocue/internal/cue"
)

// Without a tone the words alone lead to the goal: numbers that rise as the star
// comes true, and never while something else is said.
func TestWordsOnly(t *testing.T) {
	for mode, wanted := range map[audio.Mode]bool{audio.WordsOnly: true, audio.PitchAndPulse: false} {
		d := newDream(3)
		var out bytes.Buffer
		p := parts(t, d, &out)
		p.Mixer = audio.NewMixer(audio.Settings{Mapping: audio.Mapping{Mode: mode}})
		p.Sink = audio.NewNull(p.Mixer)
		got, err := Frames(context.Background(), p, d.fps)
		if err != nil || got.Result != cue.Aligned {
			t.Fatalf("%+v, %v", got, err)
		}
		var scores []int
		until := -1.0
		for _, line := range strings.Split(strings.TrimSpace(out.String()), "\n") {
			var e struct {
				T, Seconds  float64
				Event, Code string
				Text        string
			}
			if err := json.Unmarshal([]byte(line), &e); err != nil {
				t.Fatal(err)
			}
			if e.Event != "say" {
				continue
			}
			if e.Code == "score" {
				n, err := strconv.Atoi(e.Text)
				if err != nil || n%10 != 0 || n < 0 || n > 100 || e.T < until {
					t.Errorf("at %g s %q (%v); other words last until %g", e.T, e.Text, err, until)
				}
				scores = append(scores, n)
			}
			until = e.T + e.Seconds
		}
		if wanted != (len(scores) > 3) || !wanted && len(scores) > 0 {
			t.Errorf("mode %v: the numbers %v", mode, scores)
		}
		if wanted && scores[len(scores)-1] <= scores[0] {
			t.Errorf("the numbers do not rise: %v", scores)
		}
		t.Logf("%v", scores)
	}
}
