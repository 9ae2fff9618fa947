package run

import (
	"halocue/audio/command"
	"halocue/prompts"
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
var opposite = map[command.Command]command.Command{
	command.Louder: command.Quieter, command.Quieter: command.Louder, command.Faster: command.Slower, command.Slower: command.Faster,
	command.Wait: command.GoOn, command.TakeTime: command.AsBefore,
}

// undoWithin is how soon "undo" means the last command, which may have been
// misheard, and not the last turns, s.
const undoWithin = 20

// command does what the person asked for. Everything is answered: by the coach's
// cue, or by a word.
func (n *night) command(t float64, c command.Command) {
	n.record(commandEvent{t, "command", string(c)})
	last, at := n.asked, n.askedAt
	n.asked, n.askedAt = c, t
	if back, ok := opposite[last]; ok && c == command.Undo && t-at < undoWithin {
		c = back
	}
	answer := ""
	switch c {
	case command.Repeat:
		n.note(n.Narrator.Repeat(t))
		return
	case command.Louder, command.Quieter:
		step := map[command.Command]float64{command.Louder: volumeStep, command.Quieter: -volumeStep}[c]
		n.Mixer.SetVolume(min(loudest, max(softest, n.Mixer.Volume()+step)))
		answer = string(c)
	case command.Faster, command.Slower:
		factor := map[command.Command]float64{command.Faster: speedStep, command.Slower: 1 / speedStep}[c]
		answer = "cannot-now"
		if n.Speed != nil && n.Speed(factor) {
			answer = string(c)
		}
	case command.Help:
		if n.Help != nil {
			n.note(n.Narrator.Add(t, n.Help...))
			return
		}
		answer = "help"
	case command.Star:
		which := prompts.Cue{Code: "star", Direction: "no-place"}
		if n.Star != nil {
			which = n.Star()
		}
		n.note(n.Narrator.Add(t, which))
		return
	default:
		if c != command.Status && c != command.WhichKnob && c != command.TakeTime && c != command.AsBefore {
			n.stopDriving(t)
		}
		n.advice(t, nil, n.Coach.Hear(c, t))
		return
	}
	n.note(n.Narrator.Add(t, prompts.Cue{Code: answer}))
}
