package main

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
	"halocue/internal/guide"
	"halocue/internal/setup"
	"halocue/prompts/voice"
)

// talk is a conversation: printed and spoken out, lines in.
type talk struct {
	*app
	c       config.Config
	lines   chan answer
	early   *answer // an answer that came before its question was said to the end
	desk    *audio.Desk
	sink    audio.Sink
	events  chan guide.DeviceEvent
	speaker *voice.Speaker
	until   time.Time // when the words are out
	deafen  func()    // ends the listening
}

type answer struct {
	line string
	err  error
}

// newTalk opens sound and voice. Without them the conversation is a printed one.
func (a *app) newTalk(ctx context.Context, c config.Config) (*talk, error) {
	c = a.mixed(c, false)
	t := &talk{app: a, c: c, lines: make(chan answer), events: make(chan guide.DeviceEvent, 64), deafen: func() {}}
	c.Voice.Language = "en"
	var err error
	if t.desk, err = newDesk(c.Sound); err != nil {
		return nil, err
	}
	if t.sink, err = openSink(ctx, c.Sound, t.desk, t.events); err != nil {
		fmt.Fprintf(a.stderr, "halocue: %v; the questions are only printed\n", err)
		t.sink = audio.NewNull(t.desk)
	}
	v, err := newVoice(c.Voice, t.events)
	if err != nil {
		return nil, errors.Join(err, t.sink.Close())
	}
	t.speaker = voice.NewSpeaker(v)
	go t.read(ctx)
	if card, ok := t.sink.(*device.Card); ok && c.Sound.Microphone {
		t.listen(ctx, card)
	}
	return t, nil
}

// listen takes spoken answers as lines, and prints them as they would have been typed.
// Without a recogniser the answers are typed, and that is told.
func (t *talk) listen(ctx context.Context, card *device.Card) {
	c := hearing(card, t.desk)
	c.Sentences = setup.Sentences()
	e, err := ears.New(c)
	if err != nil {
		fmt.Fprintf(t.stderr, "halocue: %v; type the answers\n", err)
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
			fmt.Fprintf(t.stdout, "> %s\n", line)
			select {
			case t.lines <- answer{line: line}:
			case <-ctx.Done():
			}
		})
		if err != nil {
			fmt.Fprintf(t.stderr, "halocue: %v; type the answers\n", err)
		}
	}()
}

// read passes the lines of standard input on. Reading cannot be woken: it ends
// with the input, with ctx once a line has come, or with the program.
func (t *talk) read(ctx context.Context) {
	in := bufio.NewScanner(t.stdin)
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
func (t *talk) Say(ctx context.Context, sentence string) error {
	if _, err := fmt.Fprintln(t.stdout, sentence); err != nil {
		return fmt.Errorf("printing a question: %w", err)
	}
	if _, mute := t.sink.(*audio.Null); mute {
		return ctx.Err()
	}
	if err := t.wait(ctx); err != nil || t.answered() {
		return err // who answers already need not hear it
	}
	clip, err := t.speaker.Clip(ctx, sentence)
	if err != nil {
		return fmt.Errorf("saying %q: %w; --sound none only prints", sentence, err)
	}
	t.desk.Say(clip)
	seconds := clip.Seconds() + sentenceGap
	if silent(t.sink) {
		return t.sink.Advance(seconds)
	}
	t.until = time.Now().Add(time.Duration((seconds + t.sink.Delay()) * float64(time.Second)))
	return nil
}

// sentenceGap is the pause between two sentences, s.
const sentenceGap = 0.3

// wait lets the words come to their end, or to the person's next answer.
func (t *talk) wait(ctx context.Context) error {
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

// answered tells whether a line waits; the end of the input is none.
func (t *talk) answered() bool { return t.early != nil && t.early.err == nil }

func (t *talk) hush() {
	t.desk.Hush()
	t.until = time.Time{}
}

// Answer waits for a line; what is being said is cut short by it.
func (t *talk) Answer(ctx context.Context) (string, error) {
	t.complainOnce()
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

// complainOnce prints what has failed in sound or voice; the printed words go on.
func (t *talk) complainOnce() {
	select {
	case e := <-t.events:
		if e.On {
			fmt.Fprintf(t.stderr, "halocue: %s: %s\n", e.Device, e.Detail)
		}
	default:
	}
}

// speakAs has the rest said at a new speed. A voice that cannot be had leaves the
// one there is.
func (t *talk) speakAs(w config.Voice) {
	c := t.c.Voice
	c.Language, c.SpeedWPM = "en", w.SpeedWPM
	v, err := newVoice(c, t.events)
	if err != nil {
		fmt.Fprintf(t.stderr, "halocue: %v\n", err)
		return
	}
	t.speaker.Use(v)
}

// close lets the last words out.
func (t *talk) close() error {
	defer t.speaker.Close()
	t.deafen()
	return errors.Join(t.wait(context.Background()), t.sink.Close())
}
