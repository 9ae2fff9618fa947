// Package day is the coach by day: it brings a Newtonian's two mirrors roughly
// true, by what a camera sees at a peephole in the focuser. First the secondary's
// three small screws, until the main mirror is seen with an even margin all round;
// then the main mirror's knobs, until the dark reflection of the peephole stands on
// the mark in the mirror's middle. Half a turn of the plug tells how far the
// peephole itself is off.
//
// It speaks as the coach by night does: package cue has the cues, hand.go follows what
// the person does, the files say*.go choose what is said. It is pure:
// time comes with each sight, nothing is read, written or spoken. Lengths are mm on
// the main mirror's face unless said otherwise: there the reflection of a peephole
// near the focus lies 2 a from the mark when the mirror's axis passes the peephole
// at a distance a, as the star of an autocollimator does (mirror equation).
package day

import (
	"cmp"
	"math"

	"halocue/internal/optics"
)

// The codes that are said by day only; the others are those of package cue.
const (
	CodeSecondary   = "secondary-step" // tell: the secondary's screws come first, and how they are counted
	CodeEven        = "margin-even"    // tell: the margin is even; leave the secondary
	CodePrimary     = "primary-step"   // tell: now the main mirror's knobs
	CodeHalfTurn    = "half-turn"      // action half-turn: turn the plug, camera and all, by half a turn
	CodeQuarterTurn = "quarter-turn"   // action half-turn: and on by a quarter
	CodePlugStays   = "plug-unturned"  // warn: the plug was not turned, so the peephole is not checked
	CodePeephole    = "peephole-off"   // tell: the peephole is off the middle; it is allowed for
	CodeMarkOff     = "mark-off"       // warn: the mark is not in the mirror's middle
	CodeNoMark      = "no-mark"        // warn: no mark, and how one is put on
	CodeNoSpot      = "no-spot"        // warn: the dark reflection of the peephole is not seen
	CodeNoMirror    = "no-mirror"      // warn: the main mirror is not seen
	CodeNoRim       = "no-secondary"   // warn: the secondary's edge is not seen
	CodeTooSmall    = "no-edge"        // warn: the main mirror is larger than the secondary shows from here
	CodeDim         = "dim"            // warn: too dark to see by
	CodeOffCentre   = "secondary-off"  // tell: the secondary is not in the middle of the focuser
	CodeScrewLimit  = "screw-limit"    // warn: this small screw has been backed off as far as it may
	CodeDone        = "rough-done"     // action done, with a result
)

// The results of a day's work, besides cue.GivenUp. They claim less than
// cue.Aligned: only the star proves that.
const (
	Rough     = "rough"
	Unchecked = "unchecked" // the mark stands on the spot; whether the peephole is in the middle nobody knows
)

// What to do next where the day was given up, in the argument "next" of its end.
const (
	NextAgain     = "again"     // begin once more
	NextLight     = "light"     // more light
	NextMirror    = "mirror"    // caps, and where the camera looks
	NextRim       = "rim"       // white paper behind the secondary
	NextSecondary = "secondary" // set it by eye first
	NextMark      = "mark"      // put one on
	NextHole      = "hole"      // a light plug, a black disc
	NextPlug      = "plug"      // a snug one
	NextLocks     = "locks"     // a touch each in turn
)

// How long the coach waits, seconds: judgement.
const (
	movePatience = 6    // for the first movement after a cue
	plugPatience = 40   // for the plug to be turned
	againAfter   = 25   // before trouble is spoken of again
	dayLength    = 2400 // for everything
)

// The secondary's screws where nobody has measured them: M4 or so, on a circle of
// a quarter of the secondary. Common practice, no source. Only the first nudge
// depends on it.
const (
	smallPitch  = 0.7
	smallCircle = 0.28
)

// Screws are the names of the secondary's screws: the first is the one nearest the
// focuser, or next to it clockwise, looking in at the tube's open end.
var Screws = [3]string{"first", "second", "third"}

// secondary is the width of the secondary, mm.
func secondary(t optics.Telescope) float64 {
	return cmp.Or(math.Max(t.Secondary, 0), t.Obstruction()*t.Aperture)
}

// Goal returns how near to the mark the reflection must be, mm on the mirror:
// what leaves the axis within half of the telescope's tolerance for coma (Strehl
// 0.80, design of package optics), but neither finer than a hand turns nor coarser
// than a peephole is drilled. The trade asks for "on the mark, as well as one can
// see"; common practice, no source.
func Goal(t optics.Telescope) float64 {
	return 2 * math.Min(math.Max(t.Tolerance()/2, 0.4), 1)
}

// evenness is how uneven the margin about the mirror may be, as a share of it: what
// an eye at the peephole sees as even. Common practice, no source.
const evenness = 0.15
