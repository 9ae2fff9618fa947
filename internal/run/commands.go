package run

import (
	"halocue/internal/cue"
	"halocue/prompts"
)

// Commands in which the coach has no part.
const (
	Repeat  cue.Command = "repeat"
	Louder  cue.Command = "louder"
	Quieter cue.Command = "quieter"
	Faster  cue.Command = "faster"
	Slower  cue.Command = "slower"
	Help    cue.Command = "help"
	Star    cue.Command = "star"
)

const (
	volumeStep = 3    // dB
	softest    = -24  // dB relative to where it starts
	loudest    = 12   // dB; the limiter stays where it is
	speedStep  = 1.15 // of words a minute
)

// commands takes in what the person has said or pressed by now.
func (n *night) commands(t float64) {
	for {
		select {
		case c := <-n.Commands:
			n.command(t, c)
		case e := <-n.Devices:
			n.device(t, e)
		default:
			return
		}
	}
}

// opposite undoes a command in which the coach has no part; the coach undoes turns.
var opposite = map[cue.Command]cue.Command{
	Louder: Quieter, Quieter: Louder, Faster: Slower, Slower: Faster, cue.Hold: cue.GoOn, cue.TakeTime: cue.AsBefore,
}

// undoWithin is how soon "undo" means the last command, which may have been
// misheard, and not the last turns, s.
const undoWithin = 20

// command does what the person asked for. Everything is answered: by the coach's
// cue, or by a word.
func (n *night) command(t float64, c cue.Command) {
	n.record(commandEvent{t, "command", string(c)})
	last, at := n.asked, n.askedAt
	n.asked, n.askedAt = c, t
	if back, ok := opposite[last]; ok && c == cue.Undo && t-at < undoWithin {
		c = back
	}
	answer := ""
	switch c {
	case Repeat:
		n.note(n.Narrator.Repeat(t))
		return
	case Louder, Quieter:
		step := map[cue.Command]float64{Louder: volumeStep, Quieter: -volumeStep}[c]
		n.Mixer.SetVolume(min(loudest, max(softest, n.Mixer.Volume()+step)))
		answer = string(c)
	case Faster, Slower:
		factor := map[cue.Command]float64{Faster: speedStep, Slower: 1 / speedStep}[c]
		answer = "cannot-now"
		if n.Speed != nil && n.Speed(factor) {
			answer = string(c)
		}
	case Help:
		if n.Help != nil {
			n.note(n.Narrator.Add(t, n.Help...))
			return
		}
		answer = "help"
	case Star:
		which := prompts.Cue{Code: "star", Direction: "no-place"}
		if n.Star != nil {
			which = n.Star()
		}
		n.note(n.Narrator.Add(t, which))
		return
	default:
		if c != cue.Status && c != cue.WhichKnob && c != cue.TakeTime && c != cue.AsBefore {
			n.stopDriving(t)
		}
		n.advice(t, nil, n.Coach.Hear(c, t))
		return
	}
	n.note(n.Narrator.Add(t, prompts.Cue{Code: answer}))
}
