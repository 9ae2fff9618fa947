// Package device is the sound card: it plays a mixer through PortAudio by the wall
// clock, listens to the microphone, and survives the card's going away.
//
// PortAudio does not say when a device vanishes: the callbacks just stop, and a
// call to stop the stream may hang until the device is back. So a watchdog looks
// at the time of the last callback, and all calls that may hang are made in a
// goroutine of their own.
package device

import (
	"errors"
	"time"
)

// ErrNoDevice is wrapped by Open's error when there is nothing to play on.
var ErrNoDevice = errors.New("no sound device")

const remedy = "plug in earphones or a loudspeaker, start the sound server (PipeWire or PulseAudio), or use --sound FILE.wav"

// The buffer that is asked for. On two cores, with eight busy programs beside it or two
// busy goroutines in it, 480 frames at 45 ms had no under-run, and neither had 512 at
// 60 ms, which are heard 25 ms later; 256 frames had some. The sound server fetches two
// buffers at a time, every 20 ms (docs/sound.md, "How soon").
const (
	framesPerBuffer = 480
	outputLatency   = 45 * time.Millisecond
	lookEvery       = 100 * time.Millisecond
	silentAfter     = 400 * time.Millisecond // no callback: the device is gone; noticed within half a second
	retryAfter      = 500 * time.Millisecond
	hungAfter       = 3 * time.Second
	closeWithin     = time.Second
	fadeTime        = 40 * time.Millisecond
)

// Kind is what happened to the card.
type Kind string

// Kinds of events.
const (
	Lost     Kind = "lost"      // no sound goes out; it is being reopened
	Back     Kind = "back"      // sound goes out again
	Hung     Kind = "hung"      // the sound system does not answer; still waiting
	NoMic    Kind = "no-mic"    // a microphone was asked for and there is none
	UnderRun Kind = "under-run" // samples came too late since the last event of this kind; at most one a second
)

// Event is something that happened to the card.
type Event struct {
	Kind   Kind
	Detail string // why, in words; may be empty
	Count  int64  // under-runs since Open
}
