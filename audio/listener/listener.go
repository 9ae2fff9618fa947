// Package listener recognises sentences and the pitch of the tone in sound, for tests of
// the whole program by ear. It shares no code with what makes the sound. It knows the
// language of the cues and that a tone may sound, but not what is being said or at which
// pitch.
package listener

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"halocue/audio/internal/endpoint"
	"halocue/audio/internal/sphinx"
)

// rate is the rate of the samples that a listener takes.
const rate = 48000

// Tracker follows a pitch: it takes hop samples at a time and returns their pitch in Hz,
// 0 for none.
type Tracker interface {
	Track(hop []float32) float64
}

// Config of a listener.
type Config struct {
	Sentences []string            // patterns of the cue language: words, (a|b), [left out]
	Words     map[string][]string // pronunciations that the US English dictionary lacks
	Filler    float64             // phone probability of the filler; 0 means 1e-5
	Tracker   Tracker             // follows the tone; nil: the pitch is not asked for
	Hop       int                 // samples that Tracker takes
}

// Heard is a sentence. Times are seconds since the first sample.
type Heard struct {
	From, To float64
	Text     string // lower-case words; "" where the words made no sense
}

// Listener listens. It is not safe for several goroutines.
type Listener struct {
	cfg     Config
	decoder *sphinx.Decoder
	thin    decimator
	split   endpoint.Splitter
	hop     []float32
	pitches []float64 // of the last hops, 0 where none
}

// New returns a listener; Close it.
func New(c Config) (*Listener, error) {
	c.Filler = cmp.Or(c.Filler, 1e-5)
	g, err := sphinx.Parse(c.Sentences...)
	if err != nil {
		return nil, fmt.Errorf("learn the cue language: %w", err)
	}
	d, err := sphinx.New(sphinx.Config{Grammar: g, Filler: c.Filler, Words: c.Words, Wide: true})
	if err != nil {
		return nil, err
	}
	// A little noise at -49 dBFS hides what is left of a ducked tone: 13 % of the
	// words were wrong without it, 3 % with it.
	split := endpoint.Splitter{Quietest: -40, Dither: 0.0037}
	return &Listener{cfg: c, decoder: d, split: split}, nil
}

// Close forgets everything.
func (l *Listener) Close() error { return l.decoder.Close() }

// Hear takes the next samples, mono, full scale at 1, and returns the sentences
// that have ended: they are known about half a second after their last sound.
func (l *Listener) Hear(ctx context.Context, samples []float64) ([]Heard, error) {
	l.follow(samples)
	var all []Heard
	for _, u := range l.split.Push(l.thin.push(samples)) {
		h, err := l.understand(ctx, u)
		if err != nil {
			return all, err
		}
		all = append(all, h)
	}
	return all, nil
}

// End is to be called after the last samples: it returns what was still open.
func (l *Listener) End(ctx context.Context) ([]Heard, error) {
	return l.Hear(ctx, make([]float64, rate))
}

func (l *Listener) understand(ctx context.Context, u endpoint.Utterance) (Heard, error) {
	text, err := l.decoder.Decode(ctx, u.PCM)
	if err != nil {
		return Heard{}, fmt.Errorf("understand what was said at %.1f s: %w", u.From, err)
	}
	return Heard{u.From, u.To, text}, nil
}

// Speaking says whether words are being said right now, as far as can be told.
func (l *Listener) Speaking() bool { return l.split.Speaking() }

// follow lets the tracker hear.
func (l *Listener) follow(samples []float64) {
	if l.cfg.Tracker == nil {
		return
	}
	for _, v := range samples {
		if l.hop = append(l.hop, float32(v)); len(l.hop) == l.cfg.Hop {
			hz := l.cfg.Tracker.Track(l.hop)
			if math.IsNaN(hz) || l.split.Speaking() {
				hz = 0
			}
			l.pitches = append(l.pitches, hz)
			l.hop = l.hop[:0]
		}
	}
	if n := len(l.pitches); n > 2*recent {
		l.pitches = append(l.pitches[:0], l.pitches[n-recent:]...)
	}
}

// recent is how many hops Pitch looks back on.
const recent = 48

// Pitch is the pitch of the tone: the median of what was heard while nobody spoke
// in the last half second, 0 where that was too little.
func (l *Listener) Pitch() float64 {
	var heard []float64
	for _, hz := range l.pitches[max(0, len(l.pitches)-recent):] {
		if hz > 0 {
			heard = append(heard, hz)
		}
	}
	if len(heard) < recent/6 {
		return 0
	}
	return slices.Sorted(slices.Values(heard))[len(heard)/2]
}
