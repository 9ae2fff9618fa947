package aloud

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"halocue/audio"
	"halocue/audio/device"
	"halocue/audio/ears"
	"halocue/config"
	"halocue/internal/run/parts"
	"halocue/internal/setup"
)

// Talk is a conversation: printed and spoken out, lines in.
type Talk struct {
	*Out
	world  *parts.World
	voice  config.Voice
	lines  chan answer
	early  *answer   // an answer that came before its question was said to the end
	until  time.Time // when the words are over
	deafen func()    // ends the listening
}

type answer struct {
	line string
	err  error
}

// NewTalk opens sound and voice. Without sound the conversation is a printed one.
func NewTalk(ctx context.Context, w *parts.World, c config.Config) (*Talk, error) {
	c = parts.RecordableVoice(w, c, false)
	out, err := Open(ctx, c, c.Voice.Language)
	if err != nil {
		fmt.Fprintf(w.Stderr, "halocue: %v; the questions are only printed\n", err)
	}
	if out.NoVoice != nil {
		return nil, errors.Join(out.NoVoice, out.Close())
	}
	t := &Talk{Out: out, world: w, voice: c.Voice, lines: make(chan answer), deafen: func() {}}
	go t.read(ctx)
	if card := t.Card(); card != nil && c.Sound.Microphone {
		t.listen(ctx, card)
	}
	return t, nil
}

// listen takes spoken answers as lines, and prints them as they would have been typed.
// Without a recogniser the answers are typed, and that is told.
func (t *Talk) listen(ctx context.Context, card *device.Card) {
	c := parts.Ears(card, t.Mixer)
	c.Sentences = setup.Sentences()
	e, err := ears.New(c)
	if err != nil {
		fmt.Fprintf(t.world.Stderr, "halocue: %v; type the answers\n", err)
		return
	}
	ctx, cancel := context.WithCancel(ctx)
	done := make(chan struct{})
	t.deafen = func() { cancel(); <-done }
	go func() {
		defer close(done)
		defer e.Close()
		err := e.Run(ctx, card.Heard(), func(h ears.Heard) {
			line := setup.Written(h.Text)
			fmt.Fprintf(t.world.Stdout, "> %s\n", line)
			select {
			case t.lines <- answer{line: line}:
			case <-ctx.Done():
			}
		})
		if err != nil {
			fmt.Fprintf(t.world.Stderr, "halocue: %v; type the answers\n", err)
		}
	}()
}

// read passes the lines of standard input on. Reading cannot be woken: it ends
// with the input, with ctx once a line has come, or with the program.
func (t *Talk) read(ctx context.Context) {
	in := bufio.NewScanner(t.world.Stdin)
	pass := func(h answer) bool {
		select {
		case t.lines <- h:
			return true
		case <-ctx.Done():
			return false
		}
	}
	for in.Scan() {
		if !pass(answer{line: in.Text()}) {
			return
		}
	}
	err := in.Err()
	if err == nil {
		err = io.EOF
	} else {
		err = fmt.Errorf("reading the answers: %w; give one short line for each question", err)
	}
	pass(answer{err: err})
}

// Say prints the sentence, and begins to speak it once the one before is out.
func (t *Talk) Say(ctx context.Context, sentence string) error {
	if _, err := fmt.Fprintln(t.Shown(t.world, t.world.Stdout), sentence); err != nil {
		return fmt.Errorf("printing a question: %w", err)
	}
	if _, mute := t.Sink.(*audio.Null); mute {
		return ctx.Err()
	}
	if err := t.wait(ctx); err != nil || t.answered() {
		return err // who answers already need not hear it
	}
	seconds, err := t.Begin(ctx, sentence)
	if err != nil {
		return err
	}
	seconds += sentenceGap
	if !t.timed {
		return t.Sink.Advance(seconds)
	}
	t.until = time.Now().Add(time.Duration((seconds + t.Sink.Delay()) * float64(time.Second)))
	return nil
}

// sentenceGap is the pause between two sentences, s.
const sentenceGap = 0.3

// wait lets the words come to their end, or to the person's next answer.
func (t *Talk) wait(ctx context.Context) error {
	left := time.Until(t.until)
	if left <= 0 { // a line that comes now is an answer to what was heard
		return ctx.Err()
	}
	out := time.After(left)
	for !t.answered() {
		select {
		case h := <-t.lines:
			t.early = &h
		case <-out:
			return ctx.Err()
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	t.hush()
	return ctx.Err()
}

// answered reports whether a line waits; the end of the input is none.
func (t *Talk) answered() bool { return t.early != nil && t.early.err == nil }

func (t *Talk) hush() {
	t.Mixer.Hush()
	t.until = time.Time{}
}

// Answer waits for a line; what is being said is cut short by it.
func (t *Talk) Answer(ctx context.Context) (string, error) {
	t.world.Complain(t.Trouble()) // the printed words go on
	if h := t.early; h != nil {
		t.early = nil
		return h.line, h.err
	}
	select {
	case h := <-t.lines:
		t.hush()
		return h.line, h.err
	case <-ctx.Done():
		return "", ctx.Err()
	}
}

// SpeakAs changes the speed and the language to those of other settings.
func (t *Talk) SpeakAs(w config.Voice) {
	c := t.voice
	c.Language, c.SpeedWPM = w.Language, w.SpeedWPM
	t.world.Complain(t.Use(c))
}

// Close lets the last words out.
func (t *Talk) Close() error {
	t.deafen()
	return errors.Join(t.wait(context.Background()), t.Out.Close())
}
