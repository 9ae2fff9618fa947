// Package run runs a night: it takes frames from a source, measures the ring,
// asks the coach what to do, has it said, and writes down what happened. It
// connects the parts and decides nothing about mirrors.
//
// With the frame clock (Frames) time is the frame count: each frame is handled in
// order, and the events of a frame are written before the next is read. With the
// wall clock (Live) the newest frame wins and the sound runs by itself.
package run

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"math"

	"halocue/audio"
	"halocue/audio/command"
	"halocue/internal/coach"
	"halocue/internal/cue"
	"halocue/internal/observe"
	"halocue/internal/platform/drive"
	"halocue/prompts"
	"halocue/vision"
	"halocue/vision/frame"
	"halocue/vision/ring"
)

// Meter measures the ring in a frame, beginning where the last one left it.
type Meter interface {
	Track(*frame.Frame) ring.Measurement
}

// Coach decides what to do next, by night (package night) or by day (package
// day). Times are seconds since the first frame.
type Coach interface {
	// See takes in what one frame showed, Hear what the person said or pressed.
	See(observe.Sight) cue.Advice
	Hear(cmd command.Command, t float64) cue.Advice

	// Of each cue it is told when its words begin and when they are out, or that they
	// will never be said.
	Began(id int, t float64)
	Ended(id int, t float64)
	Dropped(id int)

	// Hush is on as long as the introduction is said: meanwhile nothing is asked for that
	// can wait.
	Hush(on bool)

	// Driven says that motors would do what was asked of the hands; false forbids it.
	// Arrived says that they rest; through, that the star went through focus.
	Driven(t float64) bool
	Arrived(t float64, through bool)

	// Memory is what was learned for another night; ok is false if there is nothing yet.
	Memory() (m coach.Memory, ok bool)
}

// Speech turns words into sound.
type Speech interface {
	// Clip returns the sound of the words. It may take as long as the voice needs
	// for words that it has not said before.
	Clip(ctx context.Context, text string) (audio.Clip, error)
}

// Parts is what a night is made of. Source, Meter, Coach, Narrator, Speech, Mixer
// and Sink must be there; the caller closes Source and Sink.
type Parts struct {
	Source   vision.Source
	Meter    Meter
	Coach    Coach
	Narrator *prompts.Narrator
	Speech   Speech
	Mixer    *audio.Mixer
	Sink     audio.Sink

	// LookDown measures by day, instead of Meter, what is seen down the tube; nil by night.
	LookDown func(t float64, f *frame.Frame) observe.Sight

	// Keep keeps a frame and what was seen in it, or is nil. It must not wait.
	Keep func(t float64, f *frame.Frame, s observe.Sight)

	Figure     *FigureMeter              // the Meter, if it also notes the figure of the ring; else nil
	Transcript *Transcript               // nil: not written
	Hands      func(cue.Instruction)     // those of the virtual telescope, or nil
	Echo       io.Writer                 // gets each spoken line as it is said, or nil
	Commands   <-chan command.Command    // what the person says or presses; may be nil
	Devices    <-chan DeviceEvent        // what happens to camera and sound; may be nil
	Recorder   Recorder                  // the journal, or nil
	Speed      func(factor float64) bool // makes the voice faster or slower, if it can; may be nil
	Memory     *coach.Memory             // what an earlier night taught the Coach, or nil
	Drive      *drive.Drive              // motors that do what they can of it, or nil
	Drives     <-chan *drive.Drive       // such as are found later; each takes the last one's place; may be nil
	Star       func() prompts.Cue        // tells which star to point at; nil: the place is not known
	Help       []prompts.Cue             // the answer to Help; nil is the usual one
	Warn       []string                  // codes to be said before anything is asked for: the introduction, and what does not work tonight
}

// Recorder keeps what happened; see internal/journal.
type Recorder interface {
	Record(event any) error
	// Picture keeps a small picture of the star, before or after; marks become JSON.
	Picture(name string, t float64, marks any, png []byte) error
}

// DeviceEvent is something that happened to a device.
type DeviceEvent struct {
	Device string // camera, sound, voice, journal
	State  string // lost, back, stalled, ...
	Detail string // for the transcript and the log
	Code   string // what is said, or ""
	On     bool   // the condition of Code holds now, else it is over
}

// Outcome is how a night ended.
type Outcome struct {
	Result string // aligned, as-good-as-the-air-allows, given-up, or "" at the end of the stream
	Frames int    // handled
	Bad    int    // that could not be read
	Time   float64
}

// night is a run under way.
type night struct {
	Parts
	album     album
	spoken    *speaking
	announced *announced
	toneAt    float64 // when the last tone event was written
	score     score
	asking    map[int]cue.Cue // all that was asked for, by number
	asked     command.Command
	askedAt   float64
	stage     string
	outcome   Outcome
	finished  bool // the done cue has been said to its end
	now       float64
	wall      bool    // time is the wall clock's
	at        float64 // when the newest sight was known, by the wall clock; else 0
	mute      bool    // the sound is away
	unheard   bool    // the done cue was said while it was
	soundBack float64 // when it was last said that it is back, 0 for never
	remarked  bool    // something is to be said after the done cue
	damaged   damage
	dew       dew
	driving   driving
	failure   error

	introducing bool // what goes before a night is not out yet
}

// speaking is what is being said.
type speaking struct {
	*prompts.Utterance
	end float64
}

// Frames runs a night by the frame clock, fps frames a second, until the coach is
// done, the stream ends or ctx does. It always finishes the sentence.
func Frames(ctx context.Context, p Parts, fps float64) (Outcome, error) {
	n := begin(p)
	defer func() { n.stopDriving(n.outcome.Time) }()
	defer n.keepPictures()
	for i := 0; !n.finished && n.failure == nil; i++ {
		t := float64(i) / fps
		f, err := p.Source.Next(ctx)
		switch {
		case errors.Is(err, vision.ErrBadFrame):
			n.bad(t)
		case errors.Is(err, vision.ErrLost):
			n.device(t, DeviceEvent{Device: "camera", State: "lost", Detail: err.Error()})
			return n.end(ctx, t, "camera-lost", 1/fps), n.err()
		case errors.Is(err, io.EOF):
			return n.end(ctx, t, "stream-ended", 1/fps), n.err()
		case ctx.Err() != nil:
			return n.end(context.WithoutCancel(ctx), t, "ending", 1/fps), n.err()
		case err != nil:
			return n.outcome, fmt.Errorf("reading frame %d: %w", i, err)
		default:
			n.good(t, n.measure(t, f))
		}
		n.commands(t)
		n.speak(ctx, t)
		n.advance(1 / fps)
		if n.outcome.Result != "" { // the rest needs no frames
			return n.end(ctx, t+1/fps, "", 1/fps), n.err()
		}
	}
	return n.outcome, n.err()
}

// begin makes the night, and queues what is said before it.
func begin(p Parts) *night {
	n := &night{Parts: p, album: album{none: p.Recorder == nil}, toneAt: -1, score: score{said: math.NaN()}, introducing: len(p.Warn) > 0}
	n.Coach.Hush(n.introducing)
	for _, code := range p.Warn {
		n.note(n.Narrator.Add(0, prompts.Cue{Code: code}))
	}
	return n
}

// end says a last word, if there is one, and lets what is being said come to its end.
func (n *night) end(ctx context.Context, t float64, code string, step float64) Outcome {
	n.stopDriving(t)
	n.Mixer.SetTone(audio.Tone{})
	if code != "" {
		n.note(n.Narrator.Add(t, prompts.Cue{Code: code}))
	}
	for limit := t + lastWords; t < limit && n.failure == nil; t += step {
		n.speak(ctx, t)
		if n.Narrator.Idle() {
			break
		}
		n.advance(step)
	}
	n.outcome.Time = t
	return n.outcome
}

// lastWords is how long the end of a night may go on talking, s.
const lastWords = 20

// advance moves a sink that has no clock of its own.
func (n *night) advance(seconds float64) { n.note(n.Sink.Advance(seconds)) }

// note keeps the first failure, which ends the night.
func (n *night) note(err error) { n.failure = cmp.Or(n.failure, err) }

// err is the reason why the night could not go on, if it could not.
func (n *night) err() error {
	n.note(n.Transcript.Err())
	return n.failure
}
