package aloud

import (
	"context"
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	"halocue/audio"
	"halocue/internal/run/parts"
	"halocue/prompts/voice"
)

// card stands for a sound card: it has a clock of its own.
type card struct{}

func (card) Advance(float64) error { return nil }
func (card) Delay() float64        { return 0 }
func (card) Close() error          { return nil }

// newTestTalk speaks slowly, and for as long as nobody answers.
func newTestTalk(in io.Reader) (*Talk, *strings.Builder) {
	out := &strings.Builder{}
	mixer := audio.NewMixer(audio.Settings{})
	t := &Talk{
		Out:   &Out{Mixer: mixer, Sink: card{}, speaker: voice.NewSpeaker(voice.Silent{WPM: 1}), timed: true},
		world: &parts.World{Stdin: in, Stdout: out, Stderr: out}, lines: make(chan answer),
	}
	return t, out
}

// An answer cuts the words short: those that are being said, and those that were
// to follow, which are printed all the same.
func TestEarlyAnswer(t *testing.T) {
	in, answers := io.Pipe()
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	c, out := newTestTalk(in)
	go c.read(ctx)
	if err := c.Say(ctx, "A question that takes minutes."); err != nil {
		t.Fatal(err)
	}
	if speaking, _ := c.Mixer.Speaking(); !speaking {
		t.Error("nothing is being said")
	}
	go func() {
		_, err := io.WriteString(answers, "200\n")
		_ = answers.CloseWithError(err)
	}()
	if err := c.Say(ctx, "Another."); err != nil {
		t.Fatal(err)
	}
	if speaking, _ := c.Mixer.Speaking(); speaking {
		t.Error("the words go on after the answer")
	}
	if line, err := c.Answer(ctx); line != "200" || err != nil {
		t.Errorf("the answer is %q, %v", line, err)
	}
	if got := out.String(); got != "A question that takes minutes.\nAnother.\n" {
		t.Errorf("printed is %q", got)
	}
	if _, err := c.Answer(ctx); !errors.Is(err, io.EOF) {
		t.Errorf("after the last answer there is %v", err)
	}
}

// The end of the input is no answer: the last words are said to their end, unless
// the person ends the program.
func TestLastWords(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	c, _ := newTestTalk(strings.NewReader(""))
	go c.read(ctx)
	if err := c.Say(ctx, "Written."); err != nil {
		t.Fatal(err)
	}
	time.AfterFunc(50*time.Millisecond, cancel)
	if err := c.wait(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("waiting ended with %v", err)
	}
	if speaking, _ := c.Mixer.Speaking(); !speaking {
		t.Error("the end of the input cut the last words")
	}
}

func TestAnswerEndsWithContext(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	c, _ := newTestTalk(strings.NewReader(""))
	if _, err := c.Answer(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("the answer is %v", err)
	}
}
