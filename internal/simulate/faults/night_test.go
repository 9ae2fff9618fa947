package faults

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"strings"
	"testing"

	"golang.org/x/text/language"
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio"
	"halocue/internal/coach"
	"halocue/internal/coach/night"
	"halocue/internal/cue"
	"halocue/internal/run"
	"halocue/internal/simulate/nights"
	"halocue/internal/simulate/telescope"
	"halocue/prompts"
	"halocue/vision/frame"
	"halocue/vision/ring"
)

const fps = 5.0

// spoiler changes a frame of the virtual telescope, t seconds after the first, or
// says why there is none.
type spoiler func(t float64, f *frame.Frame) error

// spoilt is the virtual telescope seen through a fault, for so many seconds.
type spoilt struct {
	*telescope.Source
	spoil spoiler
	last  float64
}

func (s *spoilt) Next(ctx context.Context) (*frame.Frame, error) {
	f, err := s.Source.Next(ctx)
	if err != nil {
		return nil, err
	}
	t := f.T.Seconds()
	if t >= s.last {
		return nil, io.EOF
	}
	return f, s.spoil(t, f)
}

// mime speaks without a voice, as long as a voice would, or so many times as fast.
type mime struct{ haste float64 }

func (m mime) Clip(_ context.Context, text string) (audio.Clip, error) {
	return audio.FromPCM(make([]int16, int((0.3+0.065*float64(len(text)))/max(m.haste, 1)*audio.Rate))), nil
}

// sky draws a night for a small camera, and hands that keep the star in its frame, so that what is lost is lost by
// the fault.
func sky(seed uint64) telescope.Night {
	return nights.Draw(seed, nights.DrawOptions{Width: 640, Height: 480, Pixel: 0.0075, Tracked: true, NoLocks: true, Skill: &telescope.Deft})
}

// parts guides a night with everything but camera, sound and voice.
func parts(t *testing.T, n telescope.Night, out io.Writer) run.Parts {
	t.Helper()
	settings := nights.Settings(n, fps)
	settings.Memory = &coach.Memory{Holds: true} // these faults are not the focuser's
	c, err := night.New(settings)
	if err != nil {
		t.Fatal(err)
	}
	p, err := prompts.New(language.English, prompts.Normal)
	if err != nil {
		t.Fatal(err)
	}
	mixer := audio.NewMixer(audio.Settings{})
	return run.Parts{
		Meter: ring.NewMeter(ring.Config{Telescope: n.Telescope, PixelMM: n.Camera.Pixel}), Coach: c,
		Narrator: prompts.NewNarrator(p), Speech: mime{}, Mixer: mixer, Sink: audio.NewNull(mixer),
		Transcript: run.NewTranscript(out),
	}
}

// event is a line of the transcript.
type event struct {
	T                                float64
	Event, Action, Code, Text, Stage string
	Device, State, Why, Result       string
	Found                            bool
}

func events(t *testing.T, transcript string) (all []event) {
	t.Helper()
	for line := range strings.Lines(transcript) {
		var e event
		if err := json.Unmarshal([]byte(line), &e); err != nil {
			t.Fatal(err)
		}
		all = append(all, e)
	}
	return all
}

// through guides a night of so many seconds through a fault, and returns what
// happened; where it is deaf nobody does what is said. A claim that is not true
// fails the test.
func through(t *testing.T, seed uint64, seconds float64, deaf bool, spoil spoiler) []event {
	t.Helper()
	n := sky(seed)
	var out bytes.Buffer
	p := parts(t, n, &out)
	src := telescope.NewSource(n, telescope.SourceOptions{FPS: fps, Closed: io.EOF})
	p.Source = &spoilt{src, spoil, seconds}
	if !deaf {
		p.Hands = src.Hear
	}
	got, err := run.Frames(context.Background(), p, fps)
	if err != nil {
		t.Fatal(err)
	}
	if off := r2.Norm(src.Truth().Axis) / n.Telescope.Tolerance(); got.Result == cue.Aligned && off > 1 {
		t.Errorf("aligned was said with the axis point %.2f tolerances off", off)
	}
	return events(t, out.String())
}

// between are the words said from one second to another.
func between(all []event, from, to float64) (said []event) {
	for _, e := range all {
		if e.Event == "say" && e.T >= from && e.T < to {
			said = append(said, e)
		}
	}
	return said
}
