package day

import (
	"halocue/internal/cue"
	"halocue/internal/observe"
)

// sun warns of a frame flooded with light, whatever else is going on.
func (c *Coach) sun() ([]cue.Cue, bool) {
	if c.why != observe.TooBright || c.visible {
		c.sunny = 0
		return nil, false
	}
	if c.sunny++; c.sunny < 2 {
		return nil, false
	}
	if !c.tell(cue.CodeSun, 8) {
		return nil, true
	}
	return []cue.Cue{{Code: cue.CodeSun, Action: cue.Warn, Reason: "the frame is flooded with light"}}, true
}

// reasons are what is said where nothing can be measured.
var reasons = map[string]string{
	"dark":         CodeDim,
	"no-mirror":    CodeNoMirror,
	"no-secondary": CodeNoRim,
}

// blind says why nothing can be measured, once it has lasted.
func (c *Coach) blind() []cue.Cue {
	code, ok := reasons[c.why]
	if !ok || c.t-c.seen < 3 {
		return nil // an unreadable frame is the caller's to tell
	}
	return c.trouble(code, "nothing to measure: "+c.why)
}
