package cue

import "gonum.org/v1/gonum/spatial/r2"

// Instruction is a cue as hands hear it: the fields of a say event in the transcript,
// and nothing else.
type Instruction struct {
	Action, Knob, Direction string
	Turns                   float64
	Begin, End              float64 // seconds: first and last sample of the words
	Again                   bool    // the cue before it, said again
	Back                    bool    // of a turn: what was turned last is to be turned back
	Goal                    *r2.Vec // of a recentre: where the star should go, px; nil is the frame's centre
}
