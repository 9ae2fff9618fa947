package run

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"halocue/audio"
)

// A night replayed through the same coach is the same night, word for word.
func TestReplayIsTheNight(t *testing.T) {
	for seed := uint64(1); seed <= 5; seed++ {
		d := newDream(seed)
		var first, again bytes.Buffer
		if _, err := Frames(context.Background(), parts(t, d, &first), d.fps); err != nil {
			t.Fatal(err)
		}
		p := parts(t, newDream(seed), &again)
		p.Source, p.Meter, p.Hands = nil, nil, nil
		if _, err := Replay(context.Background(), p, bytes.NewReader(first.Bytes()), Recorded{}); err != nil {
			t.Fatal(err)
		}
		a, b := words(t, first.String()), words(t, again.String())
		if a != b {
			t.Errorf("seed %d: said\n%s\nreplayed\n%s", seed, a, b)
		}
	}
}

// So is a night by the wall clock, whose words began between the frames.
func TestReplayOfALiveNight(t *testing.T) {
	t.Parallel() // it waits by the clock
	d := newDream(1)
	d.fps = 50 // five seconds of a night in one
	var first, again bytes.Buffer
	p := parts(t, d, &first)
	p.Speech = quick{}
	p.Source = &paced{dream: d, gone: 250}
	if _, err := Live(context.Background(), p); err != nil {
		t.Fatal(err)
	}
	p = parts(t, newDream(1), &again)
	p.Speech = quick{}
	p.Source, p.Meter, p.Hands = nil, nil, nil
	if _, err := Replay(context.Background(), p, bytes.NewReader(first.Bytes()), Recorded{Wall: true}); err != nil {
		t.Fatal(err)
	}
	a, b := begun(t, first.String()), begun(t, again.String())
	if len(a) < 2 || len(b) != len(a)-1 { // the last is that the camera is lost
		t.Fatalf("%v s became %v s", a, b)
	}
	for i := range b {
		if math.Abs(a[i]-b[i]) > 0.002 {
			t.Errorf("words that began at %.3f s begin at %.3f s", a[i], b[i])
		}
	}
}

// begun lists when words began, s.
func begun(t *testing.T, transcript string) (list []float64) {
	t.Helper()
	for line := range strings.Lines(transcript) {
		var e struct {
			T     float64
			Event string
		}
		if err := json.Unmarshal([]byte(line), &e); err != nil {
			t.Fatal(err)
		}
		if e.Event == "say" {
			list = append(list, e.T)
		}
	}
	return list
}

// quick speaks silently, and so fast that a test need not wait.
type quick struct{}

func (quick) Clip(_ context.Context, text string) (audio.Clip, error) {
	return audio.FromPCM(make([]int16, len(text)*audio.Rate/200)), nil
}

func words(t *testing.T, transcript string) string {
	t.Helper()
	var out strings.Builder
	for _, line := range strings.Split(strings.TrimSpace(transcript), "\n") {
		var e struct{ Event, Text string }
		if err := json.Unmarshal([]byte(line), &e); err != nil {
			t.Fatal(err)
		}
		if e.Event == "say" {
			out.WriteString(e.Text + "\n")
		}
	}
	return out.String()
}

func TestReplayOfSomethingElse(t *testing.T) {
	for _, text := range []string{"", "{}", "no transcript", `{"event":"say"}`} {
		_, err := Replay(context.Background(), parts(t, newDream(1), &bytes.Buffer{}), strings.NewReader(text), Recorded{})
		if err == nil || !strings.Contains(err.Error(), "--transcript") {
			t.Errorf("%q: %v: want the next step", text, err)
		}
	}
}

// Whatever stands in a transcript, a replay neither panics nor runs for ever.
func FuzzReplay(f *testing.F) {
	f.Add(`{"t":0.1,"event":"measure","width":1280,"height":960,"found":true,"seen":true,"star_px":{"x":600,"y":400},"radius_px":90,"offset_px":{"x":1,"y":2},"sigma_px":{"x":0.1,"y":0.1}}`)
	f.Add(`{"t":1e300,"event":"measure","found":true,"width":1,"height":1,"radius_px":1e-300}`)
	f.Add("{}\n[]")
	f.Fuzz(func(t *testing.T, transcript string) {
		f := func(tb *testing.T) Parts { return parts(tb, newDream(1), &bytes.Buffer{}) }
		out, err := Replay(context.Background(), f(t), strings.NewReader(transcript), Recorded{})
		if out.Result == "aligned" {
			t.Errorf("claims %+v, %v", out, err)
		}
	})
}
