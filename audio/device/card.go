package device

import (
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"halocue/audio"
)

// Config says what to open. Mixer is required.
type Config struct {
	Mixer      *audio.Mixer
	Output     string        // part of the output device's name; "" is the system's default
	Microphone bool          // also listen
	Input      string        // part of the input device's name; "" is the system's default
	ExtraDelay time.Duration // of a wireless earpiece, on top of what the system knows
	// Events is called with what happens to the card, from the card's own goroutine; it
	// must return soon. It may be nil.
	Events func(Event)
}

// Card is an open sound card. It is an audio.Sink whose clock is its own.
type Card struct {
	cfg       Config
	lastOut   atomic.Int64 // time of the last output callback, Unix ns
	lastIn    atomic.Int64
	underRuns atomic.Int64
	overRuns  atomic.Int64
	latency   atomic.Int64 // ns
	epoch     atomic.Int64 // raised when the streams are given up: old callbacks fall silent
	heard     chan audio.Frame
	closing   sync.Once
	quit      chan struct{}
	done      chan struct{}
}

// Open opens the card and starts to play the mixer. Where there is no device the
// error wraps ErrNoDevice. Afterwards a card that vanishes is reopened until Close.
func Open(cfg Config) (*Card, error) {
	c := &Card{
		cfg:   cfg,
		heard: make(chan audio.Frame, 64),
		quit:  make(chan struct{}),
		done:  make(chan struct{}),
	}
	opening := c.reopen(nil)
	select {
	case r := <-opening:
		if r.err != nil {
			return nil, r.err
		}
		c.report(r)
		go c.watch(r.streams)
		return c, nil
	case <-time.After(hungAfter):
		return nil, fmt.Errorf("open sound device: the sound system does not answer; restart it, or use --sound FILE.wav")
	}
}

// Advance does nothing: the card pulls by itself.
func (c *Card) Advance(float64) error { return nil }

// Delay is the time from a sample's leaving the mixer to its being heard, in
// seconds: what the system says plus Config.ExtraDelay.
func (c *Card) Delay() float64 {
	return (time.Duration(c.latency.Load()) + c.cfg.ExtraDelay).Seconds()
}

// UnderRuns is how often samples came too late since Open.
func (c *Card) UnderRuns() int64 { return c.underRuns.Load() }

// Heard delivers what the microphone hears, 20 ms at a time. Frames that nobody
// takes within a second or so are dropped and counted. It is never
// closed: select on Done as well.
func (c *Card) Heard() <-chan audio.Frame { return c.heard }

// Done is closed when the card is closed.
func (c *Card) Done() <-chan struct{} { return c.done }

// Close fades what still sounds, which leaves the mixer silent, and gives the card
// back.
func (c *Card) Close() error {
	c.closing.Do(func() { close(c.quit) })
	<-c.done
	return nil
}

// fade lets the mixer fall silent and waits until that has been heard.
func (c *Card) fade() {
	c.cfg.Mixer.Hush()
	c.cfg.Mixer.SetTone(audio.Tone{})
	time.Sleep(time.Duration(c.latency.Load()) + fadeTime)
}

func (c *Card) event(k Kind, detail string) {
	if c.cfg.Events != nil {
		c.cfg.Events(Event{k, detail, c.underRuns.Load()})
	}
}

// report takes over what a successful opening found.
func (c *Card) report(r result) {
	c.latency.Store(int64(r.latency))
	if c.cfg.Microphone && !r.mic {
		c.event(NoMic, r.micWhy)
	}
}

// watch owns the streams until Close.
func (c *Card) watch(s *streams) {
	defer close(c.done)
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	var (
		opening <-chan result // not nil while an opening is under way
		since   time.Time     // of the opening, or of its failure
		hung    bool
		lastRun = time.Now() // the mixer's time has been accounted for until then
		counted int64        // under-runs that were reported
		told    time.Time
	)
	for {
		select {
		case <-c.quit:
			if s != nil {
				c.fade()
			}
			c.shut(s, opening)
			return
		case r := <-opening:
			opening, since = nil, time.Now()
			if r.err == nil {
				s = r.streams
				c.report(r)
				c.event(Back, "")
			}
		case now := <-tick.C:
			if s == nil { // time goes on: what could not be heard is not said later
				c.cfg.Mixer.Skip(int(now.Sub(lastRun).Seconds() * audio.Rate))
			}
			lastRun = now
			switch {
			case s != nil && c.silent(s, now):
				c.epoch.Add(1)
				c.event(Lost, "the sound device stopped taking samples")
				opening, since, hung = c.reopen(s), now, false
				s = nil
			case s == nil && opening == nil && now.Sub(since) > retryAfter:
				opening, since = c.reopen(nil), now
			case opening != nil && !hung && now.Sub(since) > hungAfter:
				hung = true
				c.event(Hung, "the sound system does not answer")
			}
			if n := c.underRuns.Load(); n != counted && now.Sub(told) > time.Second {
				counted, told = n, now
				c.event(UnderRun, "")
			}
		}
	}
}

// silent reports whether a stream's callbacks have stopped.
func (c *Card) silent(s *streams, now time.Time) bool {
	old := now.Add(-silentAfter).UnixNano()
	return c.lastOut.Load() < old || s.in != nil && c.lastIn.Load() < old
}

// shut closes whatever is open or being opened, but does not wait for a sound
// system that hangs.
func (c *Card) shut(s *streams, opening <-chan result) {
	c.epoch.Add(1)
	closed := make(chan struct{})
	go func() {
		defer close(closed)
		if opening != nil {
			s = (<-opening).streams
		}
		s.close()
	}()
	select {
	case <-closed:
	case <-time.After(closeWithin):
	}
}
