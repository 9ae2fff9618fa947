// Package setup asks a person about the telescope, by ear: the questions, what
// the answers mean, and the settings file that follows from them. It knows
// neither the sound nor the disk; a Talk carries the words.
package setup

import (
	"context"
	"errors"
	"fmt"
	"math"

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
	Voice  func(config.Voice) // told of a new speed at once; may be nil
}

// Run asks everything, lets the person correct it, and returns the settings once
// they are confirmed. They pass Check; they may lack aperture and focal length.
// The error is ErrQuit, or what Talk returned.
func Run(ctx context.Context, t Talk, s Start) (config.Config, error) {
	d := &draft{Config: s.Config, wireless: s.Config.Sound.DelayMS > 0, settled: map[string]bool{}}
	d = d.clone()
	if !s.Known { // so that names follow from the places
		for i := range d.MirrorCell.Knobs {
			d.MirrorCell.Knobs[i].Name = ""
		}
	}
	c := &conversation{Talk: t, start: s, d: d}
	for _, key := range []string{"welcome", "steer", "never-sun", "thread-caution"} {
		if err := t.Say(ctx, say(key)); err != nil {
			return config.Config{}, err
		}
	}
	for {
		q, open := c.next()
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
	ask := words[q.id]["ask"]
	if q.ask != nil {
		ask = fmt.Sprintf(ask, q.ask(c.d))
	} else if c.start.Known {
		ask += " Now: " + q.show(c.d) + "."
	}
	return ask
}

// put asks one question until it is settled, or left by going back.
func (c *conversation) put(ctx context.Context, q question) error {
	if err := c.Say(ctx, c.text(q)); err != nil {
		return err
	}
	for {
		line, steer, err := listen(ctx, c)
		if err != nil {
			return err
		}
		reply, settled := "", false
		switch steer {
		case help:
			reply = words[q.id]["help"]
		case repeat:
			reply = c.text(q)
		case back:
			if c.back(q.id) {
				return nil
			}
			reply = say("first")
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
func listen(ctx context.Context, t Talk) (string, control, error) {
	for {
		line, err := t.Answer(ctx)
		if err != nil {
			return "", none, err
		}
		if !readable(line) {
			if err := t.Say(ctx, sentence(say("bad-line"))); err != nil {
				return "", none, err
			}
			continue
		}
		steer := controls[plain(line)]
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
		return sentence(wrong.Error()), false, nil
	}
	if err != nil {
		return "", false, err
	}
	d.settled[q.id] = true
	if c.start.Voice != nil && d.Voice != c.d.Voice {
		c.start.Voice(d.Voice)
	}
	c.d = d
	return say(said, words[q.id]["name"], q.show(d)), true, nil
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
	lines := []string{say("confirm")}
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
		line, steer, err := listen(ctx, c)
		if err != nil {
			return false, err
		}
		right, notYes := yesNo(line)
		switch {
		case steer == repeat, steer == help:
			lines = c.summary()
		case steer == back:
			c.back("")
			return false, nil
		case notYes == nil && right:
			return true, nil
		case notYes == nil:
			lines = []string{say("which")}
		case c.correct(line):
			return false, nil
		default:
			lines = []string{sentence(say("no-number", line))}
		}
	}
}

// summary says all the answers, each by the number of its question, which stays
// the same whatever else is asked.
func (c *conversation) summary() []string {
	lines := []string{say("review")}
	for i, q := range questions {
		if q.shown(c.d) {
			lines = append(lines, say("review-line", i+1, words[q.id]["name"], q.show(c.d)))
		}
	}
	return append(lines, say("confirm"))
}

// correct opens the question with the number, if there is one.
func (c *conversation) correct(line string) bool {
	n, err := number(line)
	i := int(n) - 1
	if err != nil || n != math.Trunc(n) || i < 0 || i >= len(questions) || !questions[i].shown(c.d) {
		return false
	}
	c.reopen(questions[i].id)
	return true
}
