package run

import (
	"bytes"
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"halocue/audio"
	"halocue/prompts"
)

// Who ends a night does not wait for what was still to be said: with a queue of
// words, and with a camera that is lost, it takes three seconds at most.
func TestEndsWithinThreeSeconds(t *testing.T) {
	for name, gone := range map[string]int{"words wait": 0, "camera lost": 2} {
		d := newDream(3)
		var out bytes.Buffer
		p := parts(t, d, &out)
		p.Source = &paced{dream: d, gone: gone}
		for range 5 {
			if err := p.Narrator.Add(0, prompts.Cue{Code: "cautions"}, prompts.Cue{Code: "welcome"}); err != nil {
				t.Fatal(err)
			}
		}
		ctx, cancel := context.WithTimeout(context.Background(), time.Second)
		start := time.Now()
		got, err := Live(ctx, p)
		cancel()
		if took := time.Since(start) - time.Second; err != nil || got.Result != "" || took > 6*time.Second { // of a busy machine
			t.Errorf("%s: %+v, %v, %v after it was ended", name, got, err, took)
		}
		if !strings.Contains(out.String(), `"code":"ending"`) {
			t.Errorf("%s: no good night", name)
		}
	}
}

// slow is a voice that takes for ever over one text.
type slow struct {
	mime
	text string
}

func (s slow) Clip(ctx context.Context, text string) (audio.Clip, error) {
	if text != s.text {
		return s.mime.Clip(ctx, text)
	}
	<-ctx.Done()
	return audio.Clip{}, fmt.Errorf("speaking was ended: %w", ctx.Err())
}

// A night that is ended while its words are made has not failed, and says its good night.
func TestEndsWhileWordsAreMade(t *testing.T) {
	d := newDream(3)
	var out bytes.Buffer
	p := parts(t, d, &out)
	p.Source = &paced{dream: d}
	p.Speech = slow{text: "Stop."}
	if err := p.Narrator.Add(0, prompts.Cue{Code: "stop"}); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), time.Second)
	defer cancel()
	if _, err := Live(ctx, p); err != nil {
		t.Error(err)
	}
	if !strings.Contains(out.String(), `"code":"ending"`) {
		t.Error("no good night")
	}
}

// A night that is ended between a warning's signal and its words says nothing after its
// good night.
func TestGoodNightIsTheLastWord(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	var out bytes.Buffer
	d := newDream(3)
	p := parts(t, d, &out)
	p.Source = &paced{dream: d}
	if err := p.Narrator.Add(0, prompts.Cue{Code: "no-camera"}); err != nil {
		t.Fatal(err)
	}
	time.AfterFunc(300*time.Millisecond, cancel)
	if _, err := Live(ctx, p); err != nil {
		t.Error(err)
	}
	_, after, ok := strings.Cut(out.String(), `"code":"ending"`)
	if !ok || strings.Contains(after, `"say"`) || !strings.Contains(out.String(), `"signal"`) {
		t.Errorf("after the good night: %s", after)
	}
}
