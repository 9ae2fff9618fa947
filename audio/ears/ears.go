// Package ears understands spoken commands: a wake phrase and some fifteen commands,
// recognised on the computer itself. English only, because Debian has a model for US
// English alone.
package ears

import (
	"context"
	"fmt"

	"halocue/audio"
	"halocue/audio/command"
	"halocue/audio/internal/endpoint"
	"halocue/audio/internal/sphinx"
)

// Recogniser turns an utterance (mono, audio.MicRate) into a sentence of the command
// grammar, or "" where it is none.
type Recogniser interface {
	Decode(ctx context.Context, pcm []int16) (string, error)
	Close() error
}

// Own is what the program itself is playing at this moment.
type Own struct {
	Speaking bool    // words or a short signal
	Hz       float64 // pitch of the tone, 0 for none
}

// Config of ears. The zero value listens with Debian's pocketsphinx.
type Config struct {
	Recogniser Recogniser // nil is pocketsphinx
	// Own is called every 20 ms; nil means that the microphone hears nothing of the
	// program. While the program speaks nothing is recognised; its tone is subtracted.
	Own func() Own
	// Attend is called every 20 ms while somebody speaks, so that the tone is lowered; it
	// may be nil.
	Attend func()
	// Delay is the time in seconds from the mixer to the microphone: out through the
	// card, through the air, and in.
	Delay float64
	// Sentences are heard in place of the commands, without a wake phrase: the patterns
	// of answers to a question. (a|b) is one of several, [x] may be left out.
	Sentences []string
}

// Heard is a command that was understood, or a sentence where Config has them. Times
// are seconds of microphone samples.
type Heard struct {
	Command  command.Command
	Text     string // as the recogniser writes it
	From, To float64
}

// Ears listen. They are for one goroutine.
type Ears struct {
	rec      Recogniser
	meaning  map[string]command.Command
	own      func() Own
	attend   func()
	past     []Own // the last Delay, one each 20 ms
	deaf     int   // frames until it recognises again
	frames   int   // that were heard, or not, so far
	opened   int   // the frame from which it hears
	split    endpoint.Splitter
	subtract canceller
}

const (
	frame = 0.020
	// echo is how long the program's words can be heard in a room after their end
	// (judgement: a quarter of a second).
	echo = 12 // frames
	// filler is the phone probability of the filler model: the larger, the more
	// utterances count as talk and not as a command. Ten minutes of recorded talk gave
	// four false alarms with 1e-3 and none with 3e-3; ten of synthetic talk gave one with
	// 3e-3; neither gave any with 1e-2, and then 98.5 % of 195 commands were understood.
	// docs/sound.md, "Commands", has the figures with 2e-3 and their command.
	filler = 2e-3
	// beheaded is the time, s, after the program's own words in which an utterance that
	// begins has lost its beginning (judgement).
	beheaded = 0.1
	// answerFiller is the same for answers to a question. It is small, because an answer
	// is expected, and is repeated to the person (judgement).
	answerFiller = 1e-5
)

// New returns ears; Close them.
func New(c Config) (*Ears, error) {
	sentences, meaning := command.Sentences()
	filler := filler
	if c.Sentences != nil {
		sentences, meaning, filler = c.Sentences, nil, answerFiller
	}
	if c.Recogniser == nil {
		g, err := sphinx.Parse(sentences...)
		if err != nil {
			return nil, fmt.Errorf("learn the commands: %w", err)
		}
		if meaning == nil {
			c.Recogniser, err = sphinx.New(sphinx.Config{Grammar: g, Filler: filler})
		} else {
			c.Recogniser, err = newTwice(g, meaning)
		}
		if err != nil {
			return nil, fmt.Errorf("voice commands: %w", err)
		}
	}
	if c.Own == nil {
		c.Own = func() Own { return Own{} }
	}
	if c.Attend == nil {
		c.Attend = func() {}
	}
	return &Ears{
		rec:     c.Recogniser,
		meaning: meaning,
		own:     c.Own,
		attend:  c.Attend,
		past:    make([]Own, 1+int(c.Delay/frame+0.5)),
		split:   endpoint.Splitter{Quietest: -60, Dither: 1e-4, Lowest: 400, Known: true},
	}, nil
}

// Close ends the recogniser.
func (e *Ears) Close() error { return e.rec.Close() }

// Hear takes the next 20 ms and returns the commands that have ended. They are
// recognised half a second after their last sound.
func (e *Ears) Hear(ctx context.Context, f audio.Frame) ([]Heard, error) {
	e.past = append(e.past[1:], e.own())
	own := e.past[0]
	x := make([]float64, len(f))
	for i, v := range f {
		x[i] = float64(v) / 32768
	}
	e.subtract.remove(x, own.Hz)
	if e.deaf--; own.Speaking {
		e.deaf = echo
	}
	if e.frames++; e.deaf > 0 {
		clear(x)
		e.opened = e.frames
	}
	e.split.Hz = own.Hz
	var all []Heard
	ended := e.split.Push(x)
	if e.split.Speaking() {
		e.attend()
	}
	for _, u := range ended {
		if e.meaning == nil && u.From < float64(e.opened)*frame+beheaded {
			continue // its beginning was not heard: "fifty one north" would be "one north"
		}
		text, err := e.rec.Decode(ctx, u.PCM)
		if err != nil {
			return all, fmt.Errorf("understand a command: %w", err)
		}
		c, known := e.meaning[text]
		if known || e.meaning == nil && text != "" {
			all = append(all, Heard{c, text, u.From, u.To})
		}
	}
	return all, nil
}

// Run hears until the context ends, and reports each command. Only the recogniser's
// failure is an error.
func (e *Ears) Run(ctx context.Context, frames <-chan audio.Frame, tell func(Heard)) error {
	for {
		select {
		case <-ctx.Done():
			return nil
		case f := <-frames:
			heard, err := e.Hear(ctx, f)
			if ctx.Err() != nil {
				return nil
			}
			if err != nil {
				return err
			}
			for _, h := range heard {
				tell(h)
			}
		}
	}
}
