package coach

import (
	"halocue/audio/command"
	"halocue/internal/cue"
)

// Pause is whether the person has asked for one.
type Pause struct{ On bool }

// Obey answers a command that begins or ends a pause, and returns none for any other.
func (p *Pause) Obey(cmd command.Command) []cue.Cue {
	switch {
	case cmd == command.Wait:
		p.On = true
		return []cue.Cue{{Code: cue.CodeHold, Action: cue.Wait, Reason: "the person asked for a pause"}}
	case cmd == command.GoOn && p.On:
		p.On = false
		return []cue.Cue{{Code: cue.CodeGoingOn, Action: cue.Tell, Reason: "the person asked to go on"}}
	}
	return nil
}
