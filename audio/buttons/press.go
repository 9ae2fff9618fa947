// Package buttons is what fingers can say: one key is enough, of any keyboard,
// presenter, camera remote or push-button on a GPIO pin (which Linux shows as a
// keyboard, by its gpio-keys driver). Keys are read from /dev/input, so no desktop is
// needed, and devices may come and go. Lines of text do the same for a
// switch-access device or a script.
package buttons

import (
	"time"

	"halocue/audio/command"
)

// How long a press is.
const (
	// long is wait: fingers in gloves are slow, so it is well over half a second.
	long = 700 * time.Millisecond
	// again is how soon after a release the second press of a double must follow.
	again = 350 * time.Millisecond
)

// presses makes gestures of one key: short is go on, double is repeat, long is
// wait. It is told of presses and releases, and of time going by.
type presses struct {
	down     bool
	since    time.Time // of the last change
	released int       // short presses that wait for another
	told     bool      // of a long press, while it is still held
}

// press tells of the key going down or up.
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

// tick tells of time going by.
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

// next is when tick has something to say, if nothing else happens; ok is false when
// it never will.
func (p *presses) next() (at time.Time, ok bool) {
	switch {
	case p.down && !p.told:
		return p.since.Add(long), true
	case !p.down && p.released > 0:
		return p.since.Add(again), true
	}
	return time.Time{}, false
}
