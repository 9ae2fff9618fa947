package night_test

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"runtime"
	"testing"

	"halocue/audio/command"
	"halocue/internal/cue"
	"halocue/internal/observe"
	"halocue/internal/simulate/nights"
	"halocue/internal/simulate/telescope"
)

var update = flag.Bool("update", false, "write testdata/nights.txt anew")

// asks are all that a person may ask for, at times when it is unlikely to help.
var asks = []nights.Ask{
	{T: 3, Command: command.Status}, {T: 4, Command: command.WhichKnob}, {T: 12, Command: command.Wait}, {T: 18, Command: command.WhichKnob},
	{T: 22, Command: command.GoOn}, {T: 30, Command: command.WhichKnob}, {T: 33, Command: command.Back}, {T: 48, Command: command.Next},
	{T: 60, Command: command.TakeTime}, {T: 70, Command: command.Did}, {T: 75, Command: command.Status}, {T: 90, Command: command.AsBefore},
	{T: 100, Command: command.Finished}, {T: 110, Command: command.Next}, {T: 140, Command: command.Did},
}

// What is said in fifty nights, with all kinds of hands, is what it was, and so are the
// stages, what the tone means, and the side of focus. Whoever means to
// change it looks at the difference that
//
//	go test ./internal/coach/night -run TestSaysWhatItSaid -update; git diff
//
// shows: that it is better is for other tests and for the reader to say. The last digits
// of a sum may be others on another processor, and a night goes its own way from there.
func TestSaysWhatItSaid(t *testing.T) {
	if runtime.GOARCH != "amd64" {
		t.Skip("the kept nights are those of amd64")
	}
	const kept = "testdata/nights.txt"
	draw := nights.DrawOptions{Width: 960, Height: 720, Pixel: 0.005}
	var got bytes.Buffer
	for _, k := range []struct {
		what  string
		first uint64
		count int
		o     nights.Options
	}{
		{"mixed people", 41, 20, nights.Options{Person: nights.Mixed}},
		{"practised, the focuser holds", 71, 4, nights.Options{Person: "practised", Holds: true}},
		{"no tracking", 81, 6, nights.Options{Change: nights.Untrack}},
		{"one side of focus", 91, 4, nights.Options{OneSided: true}},
		{"what is asked", 96, 12, nights.Options{Asks: asks, Person: nights.Mixed}},
		{"turns put back", 111, 3, nights.Options{Asks: []nights.Ask{{T: 45, Command: command.Undo}}}},
		{"the person says when it has gone through focus", 121, 3, nights.Options{Tells: true}},
		{"a cue in five is not heard", 131, 4, nights.Options{Misses: func(c cue.Cue) bool { return c.ID%5 == 2 }}},
	} {
		k.o.Draw = draw
		for seed := k.first; seed < k.first+uint64(k.count); seed++ {
			fmt.Fprintf(&got, "# %s, seed %d\n", k.what, seed)
			state := ""
			n, err := nights.Run(seed, k.o, func(v observe.Sight, _ telescope.Truth, a cue.Advice) {
				now := fmt.Sprintf("%s, tone %d, %s", a.Stage, a.Tone.State, a.Estimate.Side)
				if now != state {
					fmt.Fprintf(&got, "%5.1f %s, %.2f\n", v.T, now, a.Tone.Error)
					state = now
				}
			})
			if err != nil {
				t.Fatal(err)
			}
			for _, s := range n.Said {
				again := ""
				if s.Again {
					again = " again"
				}
				fmt.Fprintf(&got, "%5.1f %s %s %s %.3f %s%s\n", s.Begin, s.Code, s.Knob, s.Direction, s.Turns, s.Result, again)
			}
		}
	}
	if *update {
		if err := os.WriteFile(kept, got.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(kept)
	if err != nil {
		t.Fatal(err)
	}
	now, then := bytes.Split(got.Bytes(), []byte("\n")), bytes.Split(want, []byte("\n"))
	for i := range min(len(now), len(then)) {
		if !bytes.Equal(now[i], then[i]) {
			t.Fatalf("line %d is now %q, was %q", i+1, now[i], then[i])
		}
	}
	if len(now) != len(then) {
		t.Errorf("%d lines, were %d", len(now), len(then))
	}
}
