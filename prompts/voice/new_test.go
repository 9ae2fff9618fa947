package voice

import (
	"context"
	"errors"
	"os/exec"
	"strings"
	"testing"
)

// flaky fails while broken, and else speaks as many samples as the text has bytes.
type flaky struct {
	broken bool
	asked  []string
}

func (f *flaky) Speak(_ context.Context, text string) (PCM, error) {
	f.asked = append(f.asked, text)
	if f.broken {
		return PCM{}, ErrNoEngine
	}
	return PCM{Rate: 16000, Samples: make([]int16, len(text))}, nil
}

func TestFallback(t *testing.T) {
	first, second := &flaky{broken: true}, &flaky{}
	var reported []error
	v := newFallback(func(err error) { reported = append(reported, err) }, first, second)
	for range spared {
		if pcm, err := v.Speak(context.Background(), "one"); err != nil || len(pcm.Samples) != 3 {
			t.Fatalf("%d samples, %v", len(pcm.Samples), err)
		}
	}
	if len(first.asked) != 1 || len(reported) != 1 || !errors.Is(reported[0], ErrNoEngine) {
		t.Errorf("the broken voice was asked %d times, and %v reported; want once each", len(first.asked), reported)
	}
	first.broken = false
	for range 3 {
		if _, err := v.Speak(context.Background(), "two"); err != nil {
			t.Fatal(err)
		}
	}
	if got := len(first.asked); got != 3 {
		t.Errorf("the voice that came back was asked %d times; want 3: it rests for %d texts", got, spared)
	}
	first.broken, second.broken = true, true
	if _, err := v.Speak(context.Background(), "x"); !errors.Is(err, ErrNoEngine) {
		t.Errorf("both broken: %v", err)
	}
	if _, err := v.Speak(context.Background(), "x"); err == nil || !strings.Contains(err.Error(), "a moment ago") {
		t.Errorf("both at rest: %v", err)
	}
}

func TestFallbackGivesTheCallersCancellationBack(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	first, second := &flaky{broken: true}, &flaky{}
	v := newFallback(func(error) { t.Error("reported as a failure") }, first, second)
	if _, err := v.Speak(ctx, "x"); err == nil || len(second.asked) > 0 {
		t.Errorf("%v, second asked %v", err, second.asked)
	}
}

func TestRespell(t *testing.T) {
	f := &flaky{}
	v, err := respell(f, "de")
	if err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string]string{
		"Halocue. Bereit.": "Hejlokju. Bereit.", "Halocues": "Halocues", "Große-Halocue": "Große-Halocue",
	} {
		if got := v.spell(text); got != want {
			t.Errorf("%q is given as %q, want %q", text, got, want)
		}
	}
	for _, language := range []string{"de", "fr", "es", "it", "pt", "nl", "pl", "sv"} {
		v, err := respell(f, language)
		if err != nil || v.spell("Halocue") == "Halocue" {
			t.Errorf("%s: the name of the program is read as it is written: %v", language, err)
		}
	}
}

// Where nothing speaks at all, the words still take their time.
func TestNewEndsInSilence(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	var reported []error
	v, err := New(Config{Language: "en", WPM: 160, Report: func(err error) { reported = append(reported, err) }})
	if err != nil {
		t.Fatal(err)
	}
	clip, err := NewSpeaker(v).Clip(context.Background(), cue)
	if err != nil || clip.Seconds() < 1.5 || clip.Peak() > 0 {
		t.Errorf("%.2f s, peak %g, %v; want the length of the words in silence", clip.Seconds(), clip.Peak(), err)
	}
	if len(reported) != 2 || !strings.Contains(reported[0].Error(), "apt install espeak-ng") {
		t.Errorf("reported %v; want that neither engine is there, with the remedy", reported)
	}
}

func TestNewRefuses(t *testing.T) {
	for want, c := range map[string]Config{
		"voice.command":    {Engine: "command", Language: "en", WPM: 160},
		"choose":           {Engine: "gramophone", Language: "en", WPM: 160},
		"no voice":         {Language: "tlh", WPM: 160},
		"choose 80 to 450": {Language: "en", WPM: 500},
	} {
		if _, err := New(c); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v: %v; want %q", c, err, want)
		}
	}
}

// fliteVoice is a real engine that takes its text as an argument and writes a file.
func TestFlite(t *testing.T) {
	if _, err := exec.LookPath("flite"); err != nil {
		t.Fatal("flite is not installed; make deps installs it")
	}
	seconds := func(wpm float64) float64 {
		clip, err := NewSpeaker(fliteVoice(wpm)).Clip(context.Background(), "- "+cue)
		if err != nil {
			t.Fatal(err)
		}
		return clip.Seconds()
	}
	slow, fast := seconds(150), seconds(300)
	if slow < 1.5 || slow > 3 || fast > 0.6*slow {
		t.Errorf("%.2f s at 150 and %.2f s at 300 words a minute", slow, fast)
	}
}

// Any command will do, with the text or the file wherever it wants them.
func TestCommandTemplate(t *testing.T) {
	for _, argv := range [][]string{
		{"espeak-ng", "--stdout", "--stdin"},
		{"espeak-ng", "--stdout", "{text}"},
		{"espeak-ng", "-w{out}", "--stdin"},
	} {
		pcm, err := Command{Argv: argv}.Speak(context.Background(), "Stop.")
		if err != nil || len(pcm.Samples) < pcm.Rate/5 {
			t.Errorf("%v: %d samples, %v", argv, len(pcm.Samples), err)
		}
	}
	_, err := Command{Argv: []string{"true", "{out}"}, Remedy: "do this"}.Speak(context.Background(), "Stop.")
	if err == nil || !strings.Contains(err.Error(), "true wrote nothing") {
		t.Errorf("a program that writes no file: %v", err)
	}
	if _, err := (Command{Remedy: "do this"}).Speak(context.Background(), "x"); err == nil {
		t.Error("no program, and no error")
	}
}
