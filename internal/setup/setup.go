// Package setup asks a person about the telescope, by ear: the questions, what
// the answers mean, and the settings file that follows from them. It knows
// neither the sound nor the disk; a Talk carries the words.
package setup

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"halocue/config"
)

// Talk carries the conversation.
type Talk interface {
	// Say tells the person one sentence.
	Say(ctx context.Context, sentence string) error
	// Answer waits for a line. At the end of the input it returns io.EOF.
	Answer(ctx context.Context) (string, error)
}

// ErrQuit is what the person wanted: nothing is to be written.
var ErrQuit = errors.New("set-up was left; nothing is written")

// Start is what a set-up begins with.
type Start struct {
	Config config.Config      // what stays where a question is skipped; must pass Check
	Known  bool               // Config is the telescope's own: tell it with each question
	Ears   bool               // answers may be spoken, which is in English only
	Voice  func(config.Voice) // told of a new speed or language at once; may be nil

	// Alike gives the pairs of names that sound alike; nil: nobody can tell.
	Alike   func(config.Voice, []config.Knob) [][2]string
	Cameras []Camera // that were found
	Outputs []string // names of the devices that sound can come from
}

// Camera is one that was found.
type Camera struct {
	Source string // what a person answers: a number
	Name   string
}

// Run asks everything, lets the person correct it, and returns the settings once
// they are confirmed. They pass Check; they may lack aperture and focal length.
// The error is ErrQuit, or what Talk returned.
func Run(ctx context.Context, t Talk, s Start) (config.Config, error) {
	d := &draft{Config: s.Config, wireless: s.Config.Sound.DelayMS > 0, settled: map[string]bool{}, cameras: s.Cameras, outputs: s.Outputs,
		warned: map[[2]string]bool{}, alike: s.Alike}
	if d.alike == nil {
		d.alike = func(config.Voice, []config.Knob) [][2]string { return nil }
	}
	d = d.clone()
	if !s.Known { // so that names follow from the places
		for i := range d.MirrorCell.Knobs {
			d.MirrorCell.Knobs[i].Name = ""
		}
	}
	c := &conversation{Talk: t, start: s, d: d}
	greeted := false
	for {
		q, open := c.next()
		if open && q.id != "language" && !greeted {
			greeted = true
			if err := c.greet(ctx); err != nil {
				return config.Config{}, err
			}
		}
		if !open {
			confirmed, err := c.review(ctx)
			if err != nil || confirmed {
				return c.d.Config, err
			}
			continue
		}
		if err := c.put(ctx, q); err != nil {
			return config.Config{}, err
		}
	}
}

// greet says how to answer, once the language is known.
func (c *conversation) greet(ctx context.Context) error {
	lines := []string{"welcome", "steer", "never-sun", "thread-caution"}
	if c.start.Ears && c.d.Voice.Language != "en" {
		lines = slices.Insert(lines, 2, "ears")
	}
	for _, key := range lines {
		if err := c.Say(ctx, c.d.w().say(key)); err != nil {
			return err
		}
	}
	return nil
}

// conversation is a set-up under way.
type conversation struct {
	Talk
	start Start
	d     *draft

	reviewed bool // the answers have been said once
}

// next is the first question that is open.
func (c *conversation) next() (question, bool) {
	for _, q := range questions {
		if !c.d.settled[q.id] && q.shown(c.d) {
			return q, true
		}
	}
	return question{}, false
}

// text is what the question asks.
func (c *conversation) text(q question) string {
	w := c.d.w()
	ask := w.Sections[q.id]["ask"]
	if q.ask != nil {
		ask = fmt.Sprintf(ask, q.ask(c.d))
	} else if c.start.Known {
		ask = w.say("now", ask, q.show(c.d))
	}
	if q.found != nil {
		ask = q.found(c.d) + " " + ask
	}
	return c.count(q) + " " + ask
}

// count says which question it is, of how many, and how many more are about the same.
func (c *conversation) count(q question) string {
	n, all, more := 0, 0, 0
	for _, other := range c.shown() {
		all++
		if other.id == q.id {
			n = all
		} else if n > 0 && q.about != "" && other.about == q.about {
			more++
		}
	}
	switch {
	case q.about == "":
		return c.d.w().say("count", n, all)
	case more == 0:
		return c.d.w().say("count-last", n, all, q.about)
	}
	return c.d.w().say("count-more", n, all, more, q.about)
}

// put asks one question until it is settled, or left by going back.
func (c *conversation) put(ctx context.Context, q question) error {
	if err := c.Say(ctx, c.text(q)); err != nil {
		return err
	}
	for asked := 1; ; {
		line, steer, err := listen(ctx, c, c.d.w())
		if err != nil {
			return err
		}
		reply, settled := "", false
		switch steer {
		case help:
			reply = c.d.w().Sections[q.id]["help"]
		case repeat:
			reply = c.text(q)
			if asked++; asked > 2 { // whoever presses Enter again does not know what to answer
				reply += " " + c.d.w().Sections[q.id]["help"]
			}
		case back:
			if c.back(q.id) {
				return nil
			}
			reply = c.d.w().say("first")
		default:
			reply, settled, err = c.settle(q, line, steer)
			if err != nil {
				return err
			}
		}
		if err := c.Say(ctx, reply); err != nil || settled {
			return err
		}
	}
}

// listen waits for a line that can be read, and tells what it steers. quit is ErrQuit.
func listen(ctx context.Context, t Talk, w *tongue) (string, control, error) {
	for {
		line, err := t.Answer(ctx)
		if err != nil {
			return "", none, err
		}
		if !readable(line) {
			if err := t.Say(ctx, w.sentence(slipOf("bad-line"))); err != nil {
				return "", none, err
			}
			continue
		}
		steer := w.steer(line)
		if steer == quit {
			return "", none, ErrQuit
		}
		return tidy(line), steer, nil
	}
}

// settle takes an answer, or what stands for one; the reply says it back. A slip
// leaves everything as it was.
func (c *conversation) settle(q question, line string, steer control) (reply string, settled bool, err error) {
	d, said := c.d.clone(), "answer"
	switch {
	case steer == unknown && q.unknown != nil:
		q.unknown(d)
	case steer == skip || steer == unknown:
		if q.skip != nil {
			err = q.skip(d)
		}
		if q.show(d) == q.show(c.d) {
			said = "kept"
		}
	default:
		err = q.take(d, line)
	}
	var wrong slip
	if errors.As(err, &wrong) {
		return c.d.w().sentence(err), false, nil
	}
	if err != nil {
		return "", false, err
	}
	d.settled[q.id] = true
	if c.start.Voice != nil && d.Voice != c.d.Voice {
		c.start.Voice(d.Voice)
	}
	c.d = d
	return d.w().say(said, d.w().Sections[q.id]["name"], q.show(d)), true, nil
}

// back opens the question before the one with the id, or the last one before "";
// false where there is none.
func (c *conversation) back(id string) bool {
	before := ""
	for _, q := range questions {
		if q.id == id {
			break
		}
		if q.shown(c.d) {
			before = q.id
		}
	}
	c.reopen(before)
	return before != ""
}

func (c *conversation) reopen(id string) {
	if id == "corrector-out" {
		id = "corrector" // of which it is a part
	}
	delete(c.d.settled, id)
}

// review asks whether all is right; the first time it says all the answers. It is
// false where a question was opened again.
func (c *conversation) review(ctx context.Context) (confirmed bool, err error) {
	w := c.d.w()
	lines := []string{w.say("confirm")}
	if !c.reviewed {
		lines = c.summary()
	}
	c.reviewed = true
	for {
		for _, line := range lines {
			if err := c.Say(ctx, line); err != nil {
				return false, err
			}
		}
		line, steer, err := listen(ctx, c, c.d.w())
		if err != nil {
			return false, err
		}
		right, notYes := w.yesNo(line)
		switch {
		case steer == repeat, steer == help:
			lines = c.summary()
		case steer == back:
			c.back("")
			return false, nil
		case notYes == nil && right:
			return true, nil
		case notYes == nil:
			lines = []string{w.say("which")}
		case c.correct(line):
			return false, nil
		default:
			lines = []string{w.sentence(slipOf("no-answer-number", line))}
		}
	}
}

// summary says all the answers, numbered from one.
func (c *conversation) summary() []string {
	w := c.d.w()
	lines := []string{w.say("review")}
	for i, q := range c.shown() {
		lines = append(lines, w.say("review-line", i+1, w.Sections[q.id]["name"], q.show(c.d)))
	}
	return append(lines, w.say("confirm"))
}

// shown are the questions that this telescope has.
func (c *conversation) shown() (all []question) {
	for _, q := range questions {
		if q.shown(c.d) {
			all = append(all, q)
		}
	}
	return all
}

// correct opens the question with the number, if there is one.
func (c *conversation) correct(line string) bool {
	n, err := number(line)
	i, all := int(n)-1, c.shown()
	if err != nil || n != math.Trunc(n) || i < 0 || i >= len(all) {
		return false
	}
	c.reopen(all[i].id)
	return true
}
