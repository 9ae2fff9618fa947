package run

import (
	"bytes"
	"context"
	"encoding/json"
	"strings"
	"testing"

	"halocue/audio/command"
	"halocue/internal/cue"
	"halocue/internal/simulate/nights"
)

// Hands that never come are reminded by a sound, then by the same words; the
// transcript says again and why. A word repeated for the asking says so too.
func TestSaidAgainIsWrittenDown(t *testing.T) {
	d := newDream(3)
	d.limit = 600
	var out bytes.Buffer
	p := parts(t, d, &out)
	p.Hands = func(cue.Instruction) {} // nobody
	commands := make(chan command.Command, 1)
	p.Commands = commands
	commands <- command.Repeat
	if _, err := Frames(context.Background(), p, d.fps); err != nil {
		t.Fatal(err)
	}
	var first *sayEvent
	reminded, again := 0.0, 0.0
	for line := range strings.Lines(out.String()) {
		var e sayEvent
		if json.Unmarshal([]byte(line), &e) != nil {
			continue
		}
		switch {
		case e.Event == "signal" && strings.Contains(line, `"reminder"`) && reminded == 0:
			reminded = e.T
		case e.Event != "say" || e.Action != string(cue.OtherSide):
		case first == nil:
			first = &e
		case again == 0:
			again = e.T
			if !e.Again || e.Why == "" || e.Text != first.Text {
				t.Errorf("said again as %+v, first %+v", e, *first)
			}
		}
	}
	if first == nil || first.Again || reminded < first.T+12 || again < reminded {
		t.Errorf("first %+v, reminded at %.1f s, again at %.1f s", first, reminded, again)
	}
	if !strings.Contains(out.String(), `"state":"wait"`) {
		t.Error("the tone does not say that it waits")
	}
}

// Where the star drifts the transcript says where it should be brought.
func TestGoalIsWrittenDown(t *testing.T) {
	n := nights.Draw(3, nights.DrawOptions{Width: 960, Height: 720, Pixel: 0.005})
	nights.Untrack(&n)
	d := dreamOf(n)
	d.limit = 1200
	var out bytes.Buffer
	p := parts(t, d, &out)
	if _, err := Frames(context.Background(), p, d.fps); err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(out.String()) {
		var e sayEvent
		if json.Unmarshal([]byte(line), &e) == nil && e.Event == "say" && e.GoalPx != nil {
			if e.Action != string(cue.Recentre) || e.GoalPx.X < 0 || e.GoalPx.X > 960 || e.GoalPx.Y < 0 || e.GoalPx.Y > 720 {
				t.Errorf("%+v, goal %+v", e, *e.GoalPx)
			}
			return
		}
	}
	t.Error("no goal in a night without tracking")
}
