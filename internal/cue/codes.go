package cue

// The codes of the prompts catalogue: every Cue.Code is one of these, and each
// has words in every language. The comment says what is meant, the action that
// goes with it, and the Args that the words may use. Knob, Direction and Turns
// stand in the cue itself. Args: name is a knob's name; side is "inside" or
// "outside"; numbers are float64 unless said otherwise.
const (
	// Turning (action turn; Knob, Direction, Turns set).
	CodeTurn       = "turn"           // turn this knob that way by so much
	CodeLostByKnob = "star-lost-knob" // the star has left the frame as this knob was turned: turn it back
	CodeTurnUndo   = "put-back"       // putting it back: this knob that way by so much

	// Stopping (action stop).
	CodeStop      = "stop"       // stop turning: far enough, or the star is about to leave the frame
	CodeWrongKnob = "wrong-knob" // stop: another knob is being turned; Args moved: the knob that is
	CodeWrongWay  = "wrong-way"  // stop: the right knob goes the wrong way

	// Hands off (action wait).
	CodeHold     = "paused"    // waiting because the person said so
	CodeKicked   = "knocked"   // something knocked the telescope: hands off for a moment
	CodeBothHand = "one-knob"  // two knobs moved at once: hands off, one at a time
	CodeLongLook = "measuring" // hands off: the air is restless, I need to look longer; Args seconds

	// Bringing the star to the middle (action recentre).
	CodeRecentre          = "recentre"            // move the tube: star to the frame's middle
	CodeRecentreOther     = "recentre-other-way"  // the push goes away from the middle
	CodeRecentreSame      = "recentre-same"       // the way of the last push
	CodeRecentreSameHalf  = "recentre-same-half"  // and half as far
	CodeRecentreOtherHalf = "recentre-other-half" // the other way than the last push, and half as far
	CodeRecentrePast      = "recentre-past"       // the star drifts: a little past the middle
	CodeCentred           = "centred"             // action tell: the star is where it is wanted
	CodeFindStar          = "find-star"           // no star in sight: bring one into view
	CodeStarLost          = "star-lost"           // the star has left the frame: bring it back

	// Focus (action defocus, Direction more or less; action other-side).
	CodeDefocus   = "defocus"       // rack away from focus or toward it, to a ring a quarter larger or smaller
	CodeFocused   = "focused"       // direction more: the star is in focus, no ring to be seen; rack out of focus
	CodeTwoRings  = "two-defocuses" // direction more: the other side cannot be reached; a ring twice as large instead
	CodeOtherSide = "other-side"    // rack through focus to a ring of the same size on the other side

	// Locks (action lock; Knob set, Direction release or snug).
	CodeLock      = "lock"
	CodeLockPulls = "lock-pulls" // action tell: this lock pulls the mirror; Args name, tolerances

	// The end (action done; Result set). Args waves (RMS), ratio (|axis| in
	// tolerances), strehl, and for the air limit bound (in tolerances).
	CodeDone = "done"

	// Danger and trouble (action warn).
	CodeSun           = "too-bright"      // far too much light: danger first, turn away from the Sun
	CodeNoMovement    = "no-movement"     // nothing moved since the cue
	CodeTooFar        = "too-far"         // the turn went well beyond what was asked
	CodeCloud         = "clouded"         // the star faded where it stood: a cloud; waiting for it
	CodeCleared       = "cleared"         // action tell: it is back
	CodeOverlit       = "clipped"         // action defocus, more: ring burnt out; a larger ring is dimmer (or a shorter exposure)
	CodeFaint         = "faint"           // ring lost in noise: longer exposure or a brighter star
	CodeBlurred       = "blurred"         // smeared: shake, trailing or dew
	CodeTwoStars      = "two-stars"       // two rings run into each other: choose a single star
	CodeNoShadow      = "no-shadow"       // a disc without the secondary's shadow: defocus more
	CodeStillNoShadow = "no-shadow-still" // what else it may be that hides the shadow
	CodeEndOfScrew    = "thread-end"      // this screw has gone far one way; Args name, turns (signed, > 0 tightened)
	CodeSecondarySize = "secondary-size"  // the star contradicts what was told; Args told, seen, mm
	CodePixelSize     = "pixel-size"      // the same of the camera's pixel; Args told, seen, um
	CodeSides         = "sides-disagree"  // one side of focus is not as the other side and the last look at it predict: the focuser may sag
	CodeFlop          = "flop"            // the mirror moved by itself; Args tolerances

	// Telling (action tell).
	CodeStatus    = "status"     // Args ratio, bound (tolerances), waves, stage (string); none where nothing is known yet
	CodeWhichKnob = "which-knob" // Args name, direction (string), of the cue in force
	CodeNoKnob    = "cannot-now" // no knob is being turned now
	CodeNoUndo    = "nothing-to-undo"
	CodeUndone    = "undone"    // the knobs are back where they began
	CodeGoingOn   = "going-on"  // after a pause
	CodeReady     = "ready"     // the hand is late: is the person ready?
	CodeTakeTime  = "take-time" // asked for more time: granted
)
