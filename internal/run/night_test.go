package run

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"strings"
	"sync"
	"testing"

	"golang.org/x/text/language"
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio"
	bynight "halocue/internal/coach/night"
	"halocue/internal/cue"
	"halocue/internal/simulate/nights"
	"halocue/internal/simulate/telescope"
	"halocue/prompts"
	"halocue/vision/frame"
	"halocue/vision/ring"
)

// dream is the virtual telescope without pixels: a source whose frames are empty
// and a meter that knows what a measurement would say.
type dream struct {
	mu    sync.Mutex // frames are drawn, and words are heard, in goroutines of their own
	tel   *telescope.Telescope
	hands *telescope.Hands
	fps   float64
	count int
	limit int
	frame *frame.Frame
}

func newDream(seed uint64) *dream { return dreamOf(nights.Draw(seed, nights.DrawOptions{})) }

func dreamOf(n telescope.Night) *dream {
	tel := telescope.New(n)
	c := tel.Night().Camera
	return &dream{tel: tel, hands: telescope.NewHands(tel), fps: 10, limit: 15000,
		frame: &frame.Frame{Width: c.Width, Height: c.Height}}
}

func (d *dream) Next(context.Context) (*frame.Frame, error) {
	if d.count >= d.limit {
		return nil, io.EOF
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.hands.Advance(float64(d.count) / d.fps)
	d.count++
	return d.frame, nil
}

func (d *dream) Close() error { return nil }

func (d *dream) hear(in cue.Instruction) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.hands.Hear(in)
}

func (d *dream) Track(*frame.Frame) ring.Measurement {
	d.mu.Lock()
	v := d.tel.Look()
	d.mu.Unlock()
	return ring.Measurement{
		Found: v.Found, Why: ring.Why(v.Why), Star: v.Star, Seen: v.Seen,
		Ring:   ring.Circle{X: v.Star.X, Y: v.Star.Y, Radius: v.Radius},
		Shadow: ring.Circle{X: v.Star.X + v.Offset.X, Y: v.Star.Y + v.Offset.Y, Radius: v.Shadow},
		Offset: v.Offset, Sigma: v.Sigma, NoiseSigma: v.Sigma, Level: v.Level, Clipped: v.Clipped,
	}
}

// mime speaks silently, as long as a voice would take.
type mime struct{}

func (mime) Clip(_ context.Context, text string) (audio.Clip, error) {
	n := int((0.3 + 0.065*float64(len(text))) * audio.Rate)
	return audio.FromPCM(make([]int16, n)), nil
}

func parts(t *testing.T, d *dream, out io.Writer) Parts {
	t.Helper()
	c, err := bynight.New(nights.Settings(d.tel.Night(), d.fps))
	if err != nil {
		t.Fatal(err)
	}
	p, err := prompts.New(language.English, prompts.Normal)
	if err != nil {
		t.Fatal(err)
	}
	mixer := audio.NewMixer(audio.Settings{})
	return Parts{
		Source: d, Meter: d, Coach: c, Narrator: prompts.NewNarrator(p), Speech: mime{},
		Mixer: mixer, Sink: audio.NewNull(mixer), Transcript: NewTranscript(out), Hands: d.hear,
	}
}

// A whole night by the frame clock ends with a true claim, and its transcript
// keeps the outside contract.
func TestNightKeepsTheContract(t *testing.T) {
	actions := map[string]bool{"turn": true, "stop": true, "recentre": true, "defocus": true, "other-side": true,
		"lock": true, "wait": true, "done": true, "warn": true, "tell": true}
	for seed := uint64(1); seed <= 10; seed++ {
		d := newDream(seed)
		var out bytes.Buffer
		got, err := Frames(context.Background(), parts(t, d, &out), d.fps)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		off := r2.Norm(d.tel.Truth().Axis) / d.tel.Night().Telescope.Tolerance()
		if got.Result == "" || got.Result == cue.Aligned && off > 1 {
			t.Errorf("seed %d: result %q with the axis point %.2f tolerances off", seed, got.Result, off)
		}
		names := map[string]bool{}
		for _, k := range d.tel.Night().Cell.Knobs {
			names[k.Name] = true
		}
		last, tone, ends := 0.0, -1.0, 0.0
		for _, line := range strings.Split(strings.TrimSpace(out.String()), "\n") {
			var e struct {
				T                                      float64
				Event, Action, Knob, Direction, Amount string
				Turns, Hz, Seconds                     float64
				Text, Result                           string
			}
			if err := json.Unmarshal([]byte(line), &e); err != nil {
				t.Fatalf("seed %d: %v in %s", seed, err, line)
			}
			if e.T < last-1e-3 {
				t.Errorf("seed %d: time runs backwards at %s", seed, line)
			}
			last = e.T
			switch e.Event {
			case "tone":
				if e.T-tone < 0.0989 || e.Hz < 200 || e.Hz > 1200 {
					t.Errorf("seed %d: tone %s, the last at %g", seed, line, tone)
				}
				tone = e.T
			case "say":
				if !actions[e.Action] || e.Text == "" || e.Seconds <= 0 {
					t.Errorf("seed %d: %s", seed, line)
				}
				if e.Action == "turn" && (e.Turns <= 0 || !names[e.Knob] || e.Amount == "" || e.Direction != "tighten" && e.Direction != "loosen") {
					t.Errorf("seed %d: %s", seed, line)
				}
				if e.Action == "lock" && (!names[e.Knob] || e.Direction != "release" && e.Direction != "snug") {
					t.Errorf("seed %d: %s", seed, line)
				}
				if (e.Action == "done") != (e.Result != "") {
					t.Errorf("seed %d: %s", seed, line)
				}
				if e.T < ends-1e-3 && e.Action != "stop" && e.Action != "wait" && e.Action != "recentre" && e.Action != "turn" && e.Action != "done" {
					t.Errorf("seed %d: speaks over itself: %s", seed, line)
				}
				ends = e.T + e.Seconds
			}
		}
	}
}

// The same night twice is the same to the letter.
func TestNightRepeats(t *testing.T) {
	var a, b bytes.Buffer
	for _, out := range []*bytes.Buffer{&a, &b} {
		d := newDream(3)
		if _, err := Frames(context.Background(), parts(t, d, out), d.fps); err != nil {
			t.Fatal(err)
		}
	}
	if a.String() != b.String() {
		t.Error("two runs of one night differ")
	}
}

// At the end of the stream the sentence is finished, something is said, and there
// is no claim.
func TestStreamEnds(t *testing.T) {
	d := newDream(3)
	d.limit = 30
	var out bytes.Buffer
	got, err := Frames(context.Background(), parts(t, d, &out), d.fps)
	if err != nil || got.Result != "" {
		t.Fatalf("outcome %+v, %v", got, err)
	}
	if !strings.Contains(out.String(), `"code":"stream-ended"`) {
		t.Error("the end of the stream was not said")
	}
}
