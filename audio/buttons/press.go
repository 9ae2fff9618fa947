// Package buttons turns keys into commands. One key is enough, of any keyboard,
// presenter, camera remote or push-button on a GPIO pin (which Linux shows as a
// keyboard, by its gpio-keys driver). Keys are read from /dev/input, so no desktop is
// needed, and devices may come and go. Lines of text do the same for a
// switch-access device or a script.
package buttons

import (
	"time"

	"halocue/audio/command"
)

// How long a press is (judgement).
const (
	// long is wait: fingers in gloves are slow, so it is well over half a second.
	long = 700 * time.Millisecond
	// again is how soon after a release the second press of a double must follow.
	again = 350 * time.Millisecond
)

// presses turns one key into commands: short is go on, double is repeat, long is wait.
// It is given presses and releases (press) and the time (tick).
type presses struct {
	down     bool
	since    time.Time // of the last change
	released int       // short presses that wait for another
	told     bool      // a long press was reported, and the key is still held
}

// press takes in that the key goes down or up.
func (p *presses) press(down bool, now time.Time) (c command.Command, ok bool) {
	if down == p.down { // the keyboard's own repetition
		return "", false
	}
	if c, ok = p.tick(now); !ok && !down && !p.told {
		p.released++
		if p.released == 2 {
			p.released = 0
			c, ok = command.Repeat, true
		}
	}
	p.down, p.since, p.told = down, now, false
	return c, ok
}

// tick takes in the time.
func (p *presses) tick(now time.Time) (c command.Command, ok bool) {
	switch waited := now.Sub(p.since); {
	case p.down && !p.told && waited >= long:
		p.told, p.released = true, 0
		return command.Wait, true
	case !p.down && p.released > 0 && waited >= again:
		p.released = 0
		return command.GoOn, true
	}
	return "", false
}

// next is the time at which tick will return a command if nothing else happens; ok is
// false if it will not.
func (p *presses) next() (at time.Time, ok bool) {
	switch {
	case p.down && !p.told:
		return p.since.Add(long), true
	case !p.down && p.released > 0:
		return p.since.Add(again), true
	}
	return time.Time{}, false
}
