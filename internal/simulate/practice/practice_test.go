package practice

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"halocue/audio/command"
	"halocue/config"
	"halocue/internal/cue"
)

func TestHowItWent(t *testing.T) {
	for _, c := range []struct {
		start, end float64
		result     string
		turns      int
		want       string
	}{
		{1.5, 0.2, "aligned", 20, "well"},
		{1.5, 1.2, "given-up", 20, "not-true"},
		{1.5, 0.2, "", 20, "unfinished"},
		{1.5, 1.6, "aligned", 20, "worse"},
		{1.5, 1.5, "", 0, "untouched"},
	} {
		if got := howItWent(c.start, c.end, c.result, c.turns); got != c.want {
			t.Errorf("%+v: %s", c, got)
		}
	}
}

func TestPracticeLevels(t *testing.T) {
	last := 0.0
	for _, level := range []string{"calm", "usual", "rough"} {
		n, err := Night(config.Default(), 1, level)
		if err != nil || n.Sky.Seeing <= last {
			t.Errorf("%s: seeing %v after %v, %v", level, n.Sky.Seeing, last, err)
		}
		last = n.Sky.Seeing
		if tryNext[level] == "" {
			t.Errorf("%s: nothing to try next", level)
		}
	}
}

// Keys that come one by one are gathered into movements, and no stop waits.
func TestPress(t *testing.T) {
	var did []string
	var complaints strings.Builder
	commands := make(chan command.Command, 4)
	k := &keys{
		hear: func(in cue.Instruction) {
			did = append(did, fmt.Sprint(in.Action, in.Knob, in.Direction, in.Turns*32))
		},
		knobs:    leftToRight([]cue.Knob{{Name: "top", Clock: 12}, {Name: "right", Clock: 4}, {Name: "left", Clock: 8}}),
		commands: commands, touched: make(chan struct{}), complain: &complaints,
	}
	k.press(context.Background(), keysOf(context.Background(), strings.NewReader("qqqsDDx?"+strings.Repeat("w", longestHold+1)+"mn")))
	k.line("Help")
	close(commands)
	var asked []command.Command
	for c := range commands {
		asked = append(asked, c)
	}
	want := "[turnlefttighten3 turntoploosen1 turnrightloosen2 stop0 turntoptighten16 turntoptighten1]"
	if fmt.Sprint(did) != want || k.turns.Load() != 23 || fmt.Sprint(asked) != "[help help help]" {
		t.Errorf("%v, %d keys; want %s", did, k.turns.Load(), want)
	}
	if !strings.Contains(complaints.String(), `"m" is not one letter`) || strings.Contains(complaints.String(), `"n"`) {
		t.Errorf("an unknown key: %q", complaints.String())
	}
	select {
	case <-k.touched:
	default:
		t.Error("the first key does not cut the words short")
	}
}
