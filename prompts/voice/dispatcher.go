package voice

import (
	"context"
	"errors"
	"fmt"
	"os/exec"
	"sync"
	"time"
)

// Aloud is a voice that is heard by itself and gives no samples: nothing can be
// mixed or recorded. While it speaks the desk plays a silence of the words'
// length in their place, which lowers the tone.
type Aloud interface {
	Say(text string) error // begins to say it; what is being said is cut
	Hush() error           // silence, at once
	Speaking() bool        // the words are not out yet
}

// Dispatcher speaks through speech-dispatcher, so that people hear the voice, at
// the speed, that they have chosen for their desktop. It is a Voice too, of
// silences: each as long as the text took the last time, or is likely to take.
type Dispatcher struct {
	language string
	wpm      float64
	now      func() time.Time

	talk sync.Mutex // one command at a time
	line *ssip

	mu      sync.Mutex
	message string // the number of what was last begun
	text    string
	begun   time.Time
	active  bool
	lengths map[string]float64 // s, as heard
}

// DispatcherConfig is what a Dispatcher needs to know.
type DispatcherConfig struct {
	Network, Address string           // of its socket; "" is the usual one
	Language         string           // "en", "de", ...
	WPM              float64          // for the first guess of a length; the speed itself is the desktop's
	Now              func() time.Time // nil: the wall clock
}

// DialDispatcher connects to speech-dispatcher, starting it if need be.
func DialDispatcher(ctx context.Context, c DispatcherConfig) (*Dispatcher, error) {
	d := &Dispatcher{language: c.Language, wpm: c.WPM, now: c.Now, lengths: map[string]float64{}}
	if d.now == nil {
		d.now = time.Now
	}
	usual := c.Address == ""
	if usual {
		c.Network, c.Address = ssipAddress()
	}
	line, err := dialSSIP(c.Network, c.Address, d.event)
	if err != nil && usual {
		if spawn := exec.CommandContext(ctx, "speech-dispatcher", "--spawn").Run(); spawn == nil {
			line, err = dialSSIP(c.Network, c.Address, d.event)
		}
	}
	if err != nil {
		return nil, fmt.Errorf("connecting to speech-dispatcher: %w; install it (sudo apt install speech-dispatcher), or choose espeak-ng as voice.engine", err)
	}
	d.line = line
	for _, setting := range []string{
		"CLIENT_NAME halocue:halocue:main", "PRIORITY important", "NOTIFICATION ALL on", "LANGUAGE " + c.Language,
	} {
		if _, err := line.send("SET self " + setting); err != nil {
			return nil, errors.Join(fmt.Errorf("setting up speech-dispatcher: %w; choose espeak-ng as voice.engine", err), line.conn.Close())
		}
	}
	return d, nil
}

// Say begins to say text.
func (d *Dispatcher) Say(text string) error {
	if err := d.Hush(); err != nil {
		return err
	}
	d.talk.Lock()
	defer d.talk.Unlock()
	d.mu.Lock()
	d.text, d.message, d.begun, d.active = text, "", d.now(), true
	d.mu.Unlock()
	message, err := d.line.speak(text)
	d.mu.Lock()
	defer d.mu.Unlock()
	if err != nil {
		d.active = false
		return fmt.Errorf("speaking: %w; choose espeak-ng as voice.engine", err)
	}
	d.message = message
	return nil
}

// Hush silences it.
func (d *Dispatcher) Hush() error {
	d.mu.Lock()
	active := d.active
	d.active = false
	d.mu.Unlock()
	if !active {
		return nil
	}
	d.talk.Lock()
	defer d.talk.Unlock()
	if _, err := d.line.send("STOP self"); err != nil {
		return fmt.Errorf("silencing the voice: %w", err)
	}
	return nil
}

// Speaking reports that what was last said is not out yet. Words whose end is
// never announced are taken for out after twice their likely length.
func (d *Dispatcher) Speaking() bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.active && d.now().Sub(d.begun).Seconds() > 1+2*d.length(d.text) {
		d.active = false
	}
	return d.active
}

// Speak returns a silence as long as the text takes. It never fails.
func (d *Dispatcher) Speak(_ context.Context, text string) (PCM, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	return silence(d.length(text)), nil
}

// length is what the text took the last time, or is likely to take.
func (d *Dispatcher) length(text string) float64 {
	if heard, ok := d.lengths[text]; ok {
		return heard
	}
	return Length(text, d.wpm)
}

// Close ends the connection.
func (d *Dispatcher) Close() error { return d.line.conn.Close() }

// The notifications of SSIP that matter here.
const (
	ssipBegin     = "701"
	ssipEnd       = "702"
	ssipCancelled = "703"
)

// event takes a notification. One of an older message says nothing about what is
// being said now; the number of the newest may not be known yet when it begins.
func (d *Dispatcher) event(code, message string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if !d.active || d.message != "" && d.message != message {
		return
	}
	switch code {
	case ssipBegin:
		d.message, d.begun = message, d.now()
	case ssipEnd:
		if d.message == message {
			if len(d.lengths) > mostClips {
				clear(d.lengths)
			}
			d.lengths[d.text], d.active = d.now().Sub(d.begun).Seconds(), false
		}
	case ssipCancelled:
		d.active = d.active && d.message != message
	}
}
