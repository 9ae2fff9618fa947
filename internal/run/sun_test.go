package run

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"strings"
	"testing"

	"golang.org/x/text/language"

	"halocue/internal/simulate/telescope"
	"halocue/prompts"
	"halocue/vision/frame"
	"halocue/vision/ring"
)

// flooded is a camera that sees a night, and from one frame on nothing but light.
type flooded struct {
	night      *telescope.Source
	from, last int
	n          int
	white      *frame.Frame
}

func (f *flooded) Next(ctx context.Context) (*frame.Frame, error) {
	f.n++
	switch {
	case f.n > f.last:
		return nil, io.EOF
	case f.n > f.from:
		return f.white, nil
	}
	return f.night.Next(ctx)
}

func (f *flooded) Close() error { return f.night.Close() }

// A field flooded with light is a danger: the warning begins within a second,
// whatever was being said and however few words are wanted; it comes again and
// again; no hand is asked to do anything and no tone invites it while it lasts.
func TestSunIsDangerFirst(t *testing.T)      { sunIsDangerFirst(t, prompts.Brief) }
func TestProveSunIsDangerFirst(t *testing.T) { sunIsDangerFirst(t, prompts.Brief, prompts.Full) }

func sunIsDangerFirst(t *testing.T, all ...prompts.Verbosity) {
	const fps, from, last = 10.0, 40, 240
	for _, v := range all {
		d := newDream(3)
		var out bytes.Buffer
		p := parts(t, d, &out)
		phrases, err := prompts.New(language.English, v)
		if err != nil {
			t.Fatal(err)
		}
		p.Narrator = prompts.NewNarrator(phrases)
		src := telescope.NewSource(telescope.Demo(3), telescope.SourceOptions{FPS: fps, Closed: io.EOF})
		n := src.Night()
		white := frame.New(n.Camera.Width, n.Camera.Height)
		white.White = 255
		for i := range white.Pix {
			white.Pix[i] = 255
		}
		p.Source, p.Hands = &flooded{night: src, from: from, last: last, white: white}, src.Hear
		p.Meter = ring.NewMeter(ring.Config{Telescope: n.Telescope})
		if _, err := Frames(context.Background(), p, fps); err != nil {
			t.Fatal(err)
		}
		warned := warnings(t, out.String(), from/fps, last/fps)
		if len(warned) < 3 {
			t.Fatalf("verbosity %v: in %g s of danger it was said at %v", v, (last-from)/fps, warned)
		}
		if warned[0]-from/fps > 1 {
			t.Errorf("verbosity %v: the first warning came %.1f s after the light", v, warned[0]-from/fps)
		}
		for i := 1; i < len(warned); i++ {
			if warned[i]-warned[i-1] > 12 {
				t.Errorf("verbosity %v: %.1f s without a warning", v, warned[i]-warned[i-1])
			}
		}
	}
}

// warnings returns when the danger was said, and complains of all else that was
// said or sounded while it lasted.
func warnings(t *testing.T, transcript string, from, to float64) (warned []float64) {
	t.Helper()
	for _, line := range strings.Split(strings.TrimSpace(transcript), "\n") {
		var e struct {
			T                 float64
			Event, Code, Text string
		}
		if err := json.Unmarshal([]byte(line), &e); err != nil {
			t.Fatal(err)
		}
		if e.T < from || e.T >= to {
			continue
		}
		switch {
		case e.Event == "say" && e.Code == "too-bright":
			if !strings.Contains(e.Text, "Sun") {
				t.Errorf("the warning does not name the Sun: %s", line)
			}
			warned = append(warned, e.T)
		case e.Event == "say" && e.T > from+1 || e.Event == "tone" && e.T > from+1:
			t.Errorf("guidance went on in the light: %s", line)
		}
	}
	return warned
}
