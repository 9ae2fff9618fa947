package guide

import (
	"bytes"
	"context"
	"strings"
	"testing"

	"halocue/internal/coach"
)

// What the person asks for is done, answered, and written down.
func TestCommandsAreAnswered(t *testing.T) {
	d := newDream(3)
	d.limit = 200
	var out bytes.Buffer
	p := parts(t, d, &out)
	commands := make(chan coach.Command, 8)
	p.Commands = commands
	var factor float64
	p.Speed = func(f float64) bool { factor = f; return true }
	for _, c := range []coach.Command{Louder, Louder, Quieter, Faster, coach.Hold} {
		commands <- c
	}
	before := p.Desk.Volume()
	if _, err := Frames(context.Background(), p, d.fps); err != nil {
		t.Fatal(err)
	}
	if got := p.Desk.Volume() - before; got < volumeStep-1e-9 || got > volumeStep+1e-9 {
		t.Errorf("the volume rose by %g dB, want %d", got, volumeStep)
	}
	if factor != speedStep {
		t.Errorf("the speed changed by %g, want %g", factor, speedStep)
	}
	for _, want := range []string{`"command":"louder"`, `"code":"quieter"`, `"code":"faster"`, `"code":"paused"`} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("the transcript lacks %s", want)
		}
	}
	if strings.Contains(out.String(), `"action":"turn"`) {
		t.Error("a knob was named while the person had asked for a pause")
	}
}
