package run

import (
	"bytes"
	"context"
	"encoding/json"
	"strings"
	"testing"

	"halocue/audio"
	"halocue/internal/cue"
	"halocue/prompts"
)

// hearing is a sink that notes when something sounds that is not words.
type hearing struct {
	*audio.Null
	mixer *audio.Mixer
	loud  []float64
}

func (h *hearing) Advance(seconds float64) error {
	buf := make([][2]float64, int(seconds*audio.Rate))
	h.mixer.Stream(buf)
	speaking, _ := h.mixer.Speaking()
	for _, v := range buf {
		if v[0] != 0 && !speaking {
			h.loud = append(h.loud, h.mixer.Time())
			break
		}
	}
	return nil
}

// The words of trouble come after their signal, which is heard and not spoken over.
func TestSignalGoesBeforeTheWords(t *testing.T) {
	for code, e := range signals {
		d := newDream(3)
		d.limit = 20
		var out bytes.Buffer
		p := parts(t, d, &out)
		h := &hearing{mixer: p.Mixer}
		p.Sink = h
		n := begin(p)
		n.note(n.Narrator.Add(0, prompts.Cue{Code: code, Result: result(code)}))
		for i := range 100 {
			n.speak(context.Background(), float64(i)/10)
			n.advance(0.1)
		}
		if n.failure != nil {
			t.Fatalf("%s: %v", code, n.failure)
		}
		var signal, words float64 = -1, -1
		for _, line := range strings.Split(strings.TrimSpace(out.String()), "\n") {
			var ev struct {
				T                   float64
				Event, Signal, Code string
			}
			if err := json.Unmarshal([]byte(line), &ev); err != nil {
				t.Fatal(err)
			}
			switch {
			case ev.Event == "signal" && ev.Signal == e.String():
				signal = ev.T
			case ev.Event == "say" && ev.Code == code:
				words = ev.T
			}
		}
		if due := signal + e.Clip().Seconds() + signalGap; signal < 0 || words < due-0.001 || words > due+0.11 {
			t.Errorf("%s: signal at %g, words at %g; the signal lasts %.2f s", code, signal, words, e.Clip().Seconds())
		}
		if len(h.loud) == 0 || h.loud[0] > signal+0.21 {
			t.Errorf("%s: the signal is not heard, but at %v", code, h.loud)
		}
	}
}

func result(code string) string {
	switch code {
	case "done":
		return cue.Aligned
	case "rough-done":
		return "rough"
	}
	return ""
}

// A stop does not wait for a signal, and what was announced is not said after it.
func TestStopCutsASignal(t *testing.T) {
	var out bytes.Buffer
	n := begin(parts(t, newDream(3), &out))
	n.note(n.Narrator.Add(0, prompts.Cue{Code: "clouded"}))
	n.speak(context.Background(), 0)
	n.note(n.Narrator.Add(0.1, prompts.Cue{Code: "stop", Action: "stop"}))
	n.speak(context.Background(), 0.1)
	if n.failure != nil || n.spoken == nil || n.spoken.Cue.Code != "stop" {
		t.Fatalf("said %+v (%v)", n.spoken, n.failure)
	}
	for i := 2; i < 60; i++ {
		n.speak(context.Background(), float64(i)/10)
	}
	if strings.Contains(out.String(), `"code":"clouded"`) {
		t.Error("the warning was said after the stop")
	}
}

// Every signal belongs to a cue of the catalogue.
func TestSignalsHaveCues(t *testing.T) {
	for code := range signals {
		if _, err := prompts.Lookup(code); err != nil {
			t.Errorf("no cue has the code of a signal: %v", err)
		}
	}
}
