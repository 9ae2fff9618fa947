package run

import (
	"bytes"
	"context"
	"math"
	"strings"
	"testing"

	"halocue/audio/command"
	"halocue/prompts"
)

// What the person asks for is done, answered, and written down.
func TestCommandsAreAnswered(t *testing.T) {
	for c, want := range map[command.Command]struct{ volume, speed float64 }{
		command.Louder: {volumeStep, 0}, command.Quieter: {-volumeStep, 0}, command.Faster: {0, speedStep}, command.Slower: {0, 1 / speedStep}, command.Help: {},
	} {
		d := newDream(3)
		d.limit = 60
		var out bytes.Buffer
		p := parts(t, d, &out)
		var factor float64
		p.Speed = func(f float64) bool { factor = f; return true }
		before := p.Mixer.Volume()
		p.Commands = asked(c)
		if _, err := Frames(context.Background(), p, d.fps); err != nil {
			t.Fatal(err)
		}
		if got := p.Mixer.Volume() - before; math.Abs(got-want.volume) > 1e-9 || factor != want.speed {
			t.Errorf("%s: volume by %g dB, speed by %g; want %g, %g", c, got, factor, want.volume, want.speed)
		}
		for _, line := range []string{`"event":"command","command":"` + string(c), `"code":"` + string(c)} {
			if !strings.Contains(out.String(), line) {
				t.Errorf("%s: the transcript lacks %s", c, line)
			}
		}
	}
}

// Which star to point at, and what to do where the place is not known.
func TestWhichStar(t *testing.T) {
	for want, star := range map[string]func() prompts.Cue{
		"I do not know the place. Set latitude": nil,
		"Vega, in the west, 3 fists above": func() prompts.Cue {
			return prompts.Cue{Code: "star", Direction: "named", Args: map[string]any{"star": "Vega", "azimuth": 280.0, "altitude": 31.0}}
		},
	} {
		d := newDream(3)
		d.limit = 60
		var out bytes.Buffer
		p := parts(t, d, &out)
		p.Star, p.Commands = star, asked(command.Star)
		if _, err := Frames(context.Background(), p, d.fps); err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(out.String(), want) || !strings.Contains(out.String(), `"code":"star"`) {
			t.Errorf("%q was not said", want)
		}
	}
}

// A voice that cannot change says so, and in a pause no knob is named.
func TestCommandsThatCannotBe(t *testing.T) {
	d := newDream(3)
	d.limit = 200
	var out bytes.Buffer
	p := parts(t, d, &out)
	p.Commands = asked(command.Faster, command.Wait)
	if _, err := Frames(context.Background(), p, d.fps); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`"code":"paused"`, `"command":"faster"`} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("the transcript lacks %s", want)
		}
	}
	if strings.Contains(out.String(), `"action":"turn"`) {
		t.Error("a knob was named while the person had asked for a pause")
	}
}

// Undo soon after a command takes that back, and no turn.
func TestUndoTakesTheLastCommandBack(t *testing.T) {
	for c := range opposite {
		d := newDream(3)
		d.limit = 60
		var out bytes.Buffer
		p := parts(t, d, &out)
		speed, changes := 1.0, 0
		p.Speed = func(factor float64) bool { speed *= factor; changes++; return true }
		before := p.Mixer.Volume()
		p.Commands = asked(c, command.Undo)
		if _, err := Frames(context.Background(), p, d.fps); err != nil {
			t.Fatal(err)
		}
		if got := p.Mixer.Volume() - before; math.Abs(got) > 1e-9 {
			t.Errorf("%s: the volume is %g dB off", c, got)
		}
		if math.Abs(speed-1) > 1e-9 || changes == 1 {
			t.Errorf("%s: the voice is %g times as fast after %d changes", c, speed, changes)
		}
		if c == command.TakeTime && (!strings.Contains(out.String(), `"code":"take-time"`) || !strings.Contains(out.String(), `"code":"undone"`)) {
			t.Error("the time that was asked for is not taken back")
		}
		if c == command.Wait && !strings.Contains(out.String(), `"code":"going-on"`) {
			t.Error("the pause goes on")
		}
		if strings.Contains(out.String(), `"code":"nothing-to-undo"`) {
			t.Errorf("%s: the turns were to be undone", c)
		}
	}
}

func asked(all ...command.Command) <-chan command.Command {
	c := make(chan command.Command, len(all))
	for _, one := range all {
		c <- one
	}
	return c
}
