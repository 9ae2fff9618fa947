// Package cue holds what passes between a coach and the person it guides: what is asked
// for and in which code, and what the tone means. It knows neither a coach nor a simulated
// person. What a person answers is in audio/command.
package cue

import (
	"slices"

	"gonum.org/v1/gonum/spatial/r2"
)

// Action is what a cue asks for. Other programs read it in the transcript.
type Action string

// The actions of the outside contract.
const (
	Turn      Action = "turn"
	Stop      Action = "stop"
	Recentre  Action = "recentre"
	Defocus   Action = "defocus"
	OtherSide Action = "other-side"
	Lock      Action = "lock"
	Wait      Action = "wait"
	Done      Action = "done"
	Warn      Action = "warn"
	Tell      Action = "tell"
	HalfTurn  Action = "half-turn" // of the plug, camera and all: by day
)

// Directions of a cue: tighten is clockwise seen from behind the mirror.
const (
	Tighten = "tighten"
	Loosen  = "loosen"
	More    = "more"
	Less    = "less"
	Release = "release"
	Snug    = "snug"
)

// Results of a night, in the done cue.
const (
	Aligned  = "aligned"
	AirLimit = "as-good-as-the-air-allows"
	GivenUp  = "given-up"
)

// Cue is one thing to say. One knob per cue.
type Cue struct {
	ID        int    // unique in a night, rising
	Code      string // what is said: a code of the prompts catalogue ("turn", "wrong-knob", ...)
	Action    Action
	Knob      string         // the config's name to the letter, or ""
	Direction string         // one of the directions, or ""
	Turns     float64        // for turn: > 0
	Result    string         // for done
	Args      map[string]any // numbers and names for the words
	Again     bool           // what was asked for before, in the same words
	Full      bool           // the first of its kind that this person hears: in full
	Goal      *r2.Vec        // of a recentre: where the star should go, px; nil is the frame's middle
	Reason    string         // why, for the transcript's decide event
}

// ToneState is what the tone means now.
type ToneState int

// Tone states: silent; guiding by the error; inside the tolerance; at the stop.
const (
	ToneOff ToneState = iota
	ToneTrim
	ToneInside
	ToneStop
	ToneCentre // guiding the star to its goal
	ToneWait   // waiting for a hand that is late
)

// Tone is the quantity to be heard: one at a time.
type Tone struct {
	State ToneState
	Error float64 // how far from true: in tolerances (trim), or in half frame heights (centre); >= 0
	Sigma float64 // its one-sigma, same unit
}

// Estimate is what is held of the telescope after a sight, for the transcript. Lengths mm on the
// sensor relative to the target (the frame's centre unless taught).
type Estimate struct {
	Axis, AxisSigma r2.Vec  // axis point minus target
	Star            r2.Vec  // star minus target
	Ratio           float64 // |Axis| in tolerances
	Bound           float64 // 99.9 % bound of the axis point's error plus |Axis|, in tolerances
	Side            string  // "inside", "outside" or "" where it is not known
	SideChance      float64 // probability of Side
	R0              float64 // Fried parameter of the air, mm; 0 unknown
	Known           bool    // false until there is an estimate at all
}

// Advice is what follows from a sight or a command.
type Advice struct {
	Remind   bool  // a quiet sound is due: the hand is late
	Cues     []Cue // to be said, in order; the last turn, stop, wait or recentre replaces what the hand was doing
	Tone     Tone
	Estimate Estimate
	Stage    string // find, centre, defocus, unlock, learn, trim, other-side, lock, prove, done
}

// Instruction is a cue as hands hear it: the fields of a say event in the transcript,
// and nothing else.
type Instruction struct {
	Action          Action
	Knob, Direction string
	Turns           float64
	Begin, End      float64 // seconds: first and last sample of the words
	Again           bool    // the cue before it, said again
	Back            bool    // of a turn: what was turned last is to be turned back
	Goal            *r2.Vec // of a recentre: where the star should go, px; nil is the frame's centre
}

// Knob is one of the three adjusters of the primary.
type Knob struct {
	Name  string
	Clock float64 // place as seen from behind the mirror, hours, 12 at the top
}

// KnobIndex returns which of the knobs has that name, or -1.
func KnobIndex(knobs []Knob, name string) int {
	return slices.IndexFunc(knobs, func(k Knob) bool { return k.Name == name })
}

// UsualKnobs are where most mirror cells have them.
func UsualKnobs() []Knob { return []Knob{{"upper", 12}, {"right-hand", 4}, {"left-hand", 8}} }
