package guide

import (
	"bytes"
	"context"
	"encoding/json"
	"strings"
	"testing"
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
		if _, err := Replay(context.Background(), p, bytes.NewReader(first.Bytes())); err != nil {
			t.Fatal(err)
		}
		a, b := words(t, first.String()), words(t, again.String())
		if a != b {
			t.Errorf("seed %d: said\n%s\nreplayed\n%s", seed, a, b)
		}
	}
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
		_, err := Replay(context.Background(), parts(t, newDream(1), &bytes.Buffer{}), strings.NewReader(text))
		if err == nil || !strings.Contains(err.Error(), "--transcript") {
			t.Errorf("%q: %v: want the next step", text, err)
		}
	}
}
