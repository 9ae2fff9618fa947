package voice

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os/exec"
	"strconv"
	"sync"
	"time"
)

// Dispatcher speaks through speech-dispatcher, with the voice and the speed that a person
// has chosen for the desktop. Its sound cannot be mixed or recorded. As a Voice it
// returns silences, which lower the tone while it speaks; each is as long as the text took
// the last time, or is likely to take.
type Dispatcher struct {
	c   DispatcherConfig
	now func() time.Time

	talk   sync.Mutex // one command at a time
	line   *ssip      // nil: the connection is lost
	closed bool

	mu      sync.Mutex
	pace    float64 // how long texts take, in times lengthOf
	message string  // the number of what was last begun
	text    string
	begun   time.Time
	active  bool
	lengths map[string]float64 // s, as heard
}

// DispatcherConfig is what a Dispatcher needs to know.
type DispatcherConfig struct {
	Network, Address string           // of its socket; "" is the usual one
	Language         string           // "en", "de", ...
	WPM              float64          // relative to 160: the desktop's own speed at 160, faster above
	Report           func(error)      // gets the errors while it speaks; may be nil
	Now              func() time.Time // nil: the wall clock
}

// dialDispatcher connects to speech-dispatcher, starting it if need be.
func dialDispatcher(ctx context.Context, c DispatcherConfig) (*Dispatcher, error) {
	// The first guess of a length is long, because cut words are worse than a pause.
	d := &Dispatcher{c: c, now: c.Now, pace: 1.3, lengths: map[string]float64{}}
	if d.now == nil {
		d.now = time.Now
	}
	return d, d.dial(ctx)
}

// dial connects; talk is held, or d is not shared yet.
func (d *Dispatcher) dial(ctx context.Context) error {
	c, usual := d.c, d.c.Address == ""
	if usual {
		c.Network, c.Address = ssipAddress()
	}
	line, err := dialSSIP(c.Network, c.Address, d.event)
	if err != nil && usual {
		ctx, cancel := context.WithTimeout(ctx, 2*time.Second)
		defer cancel()
		if spawn := exec.CommandContext(ctx, "speech-dispatcher", "--spawn").Run(); spawn == nil {
			line, err = dialSSIP(c.Network, c.Address, d.event)
		}
	}
	if err != nil {
		return fmt.Errorf("connecting to speech-dispatcher: %w; install it (sudo apt install speech-dispatcher), or choose espeak-ng as voice.engine", err)
	}
	for _, setting := range []string{
		"CLIENT_NAME halocue:halocue:main", "PRIORITY important", "NOTIFICATION ALL on", "LANGUAGE " + c.Language,
	} {
		if _, err := line.send("SET self " + setting); err != nil {
			return errors.Join(fmt.Errorf("setting up speech-dispatcher: %w; choose espeak-ng as voice.engine", err), line.conn.Close())
		}
	}
	if err := setRate(line, c.WPM); err != nil {
		return errors.Join(fmt.Errorf("setting the speed of speech-dispatcher: %w; choose espeak-ng as voice.engine", err), line.conn.Close())
	}
	d.line = line
	return nil
}

// usualWPM is the speed of the settings at which the desktop's own is not touched.
const usualWPM = 160

// setRate makes the desktop's speed faster or slower. Rates go from -100 to 100. The
// effect of a step depends on the engine; 100 steps are taken for a factor of 2.7
// (judgement).
func setRate(line *ssip, wpm float64) error {
	if wpm <= 0 || wpm == usualWPM {
		return nil
	}
	r, err := line.send("GET RATE")
	if err != nil {
		return err
	}
	own := 0.0
	if len(r.lines) > 0 {
		if own, err = strconv.ParseFloat(r.lines[0], 64); err != nil {
			return fmt.Errorf("its speed is %q", r.lines[0])
		}
	}
	rate := min(100, max(-100, own+100*math.Log(wpm/usualWPM)))
	_, err = line.send(fmt.Sprintf("SET self RATE %.0f", rate))
	return err
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
	message, err := "", errGone
	if d.line != nil {
		message, err = d.line.speak(text)
	}
	if err != nil {
		d.lose()
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if err != nil {
		d.active = false
		return fmt.Errorf("speaking: %w; choose espeak-ng as voice.engine", err)
	}
	d.message = message
	return nil
}

// lose gives the connection up; talk is held.
func (d *Dispatcher) lose() {
	if d.line != nil {
		_ = d.line.conn.Close() // it is broken already
		d.line = nil
	}
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
	if d.line == nil {
		return nil
	}
	if _, err := d.line.send("STOP self"); err != nil {
		d.lose()
		return fmt.Errorf("silencing the voice: %w", err)
	}
	return nil
}

// Speaking reports that the last words have not ended. Where speech-dispatcher does not
// announce their end, they count as ended after twice their likely length.
func (d *Dispatcher) Speaking() bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.active && d.now().Sub(d.begun).Seconds() > 1+2*d.length(d.text) {
		d.active = false
	}
	return d.active
}

// Speak returns a silence as long as the text takes, with the functions that have it
// spoken. It fails while the connection is lost and cannot be made again.
func (d *Dispatcher) Speak(ctx context.Context, text string) (PCM, error) {
	d.talk.Lock()
	var err error
	switch {
	case d.closed:
		err = errGone
	case d.line == nil:
		err = d.dial(ctx)
	}
	d.talk.Unlock()
	if err != nil {
		return PCM{}, err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	pcm := silence(d.length(text))
	pcm.Begin = func() { d.report(d.Say(text)) }
	pcm.Cut = func() { d.report(d.Hush()) }
	return pcm, nil
}

func (d *Dispatcher) report(err error) {
	if err != nil && d.c.Report != nil {
		d.c.Report(err)
	}
}

// length is what the text took the last time, or is likely to take.
func (d *Dispatcher) length(text string) float64 {
	if heard, ok := d.lengths[text]; ok {
		return heard
	}
	return d.pace * lengthOf(text, usualWPM)
}

// Close ends the connection.
func (d *Dispatcher) Close() error {
	d.talk.Lock()
	defer d.talk.Unlock()
	d.closed = true
	d.lose()
	return nil
}

// The notifications of SSIP that matter here.
const (
	ssipBegin     = "701"
	ssipEnd       = "702"
	ssipCancelled = "703"
)

// mostLengths is how many texts' lengths are remembered (judgement: a night has some
// fifty different cues).
const mostLengths = 500

// event takes a notification. One of an older message does not concern the words that are
// being said. A notification that words begin may come before their number is known.
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
			if len(d.lengths) > mostLengths {
				clear(d.lengths)
			}
			took := d.now().Sub(d.begun).Seconds()
			d.lengths[d.text], d.active = took, false
			if guess := lengthOf(d.text, usualWPM); guess > 0.5 { // a fifth more: most texts are within a quarter
				d.pace += 0.5 * (1.2*took/guess - d.pace)
			}
		}
	case ssipCancelled:
		d.active = d.active && d.message != message
	}
}
