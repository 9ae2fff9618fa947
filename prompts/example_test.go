package prompts_test

import (
	"fmt"

	"golang.org/x/text/language"

	"halocue/prompts"
)

// How a guide drives the Narrator: once for each frame. With sound, speaking
// comes from the mixer; without, from the clip's length, as here.
func ExampleNarrator() {
	phrases, err := prompts.New(language.English, prompts.Normal)
	if err != nil {
		fmt.Println(err)
		return
	}
	narrator := prompts.NewNarrator(phrases)
	var saying *prompts.Utterance
	until := 0.0
	for frame := range 40 {
		now := float64(frame) / 10
		switch frame {
		case 0:
			err = narrator.Add(now, prompts.Cue{ID: 1, Code: "turn", Knob: "left-hand", Direction: "tighten", Turns: 0.06})
		case 12:
			err = narrator.Add(now, prompts.Cue{ID: 2, Code: "stop"})
		}
		if err != nil {
			fmt.Println(err)
			return
		}
		speaking := saying != nil && now < until
		if saying != nil && !speaking {
			fmt.Printf("%.1f cue %d ended\n", now, saying.Cue.ID)
			saying = nil
		}
		d := narrator.Step(now, speaking)
		if d.Cut {
			fmt.Printf("%.1f cue %d cut\n", now, saying.Cue.ID)
		}
		if d.Start != nil {
			saying, until = d.Start, now+0.07*float64(len(d.Start.Text)) // the clip's length
			fmt.Printf("%.1f %s: %s\n", now, saying.Cue.Action, saying.Text)
		}
	}
	// Output:
	// 0.0 turn: Left-hand knob, tighten slightly.
	// 1.2 cue 1 cut
	// 1.2 stop: Stop.
	// 1.6 cue 2 ended
}
