// Package nights lets the coach guide the simulated telescope through thousands of whole
// nights without drawing a pixel, and compares its claims with the truth.
package nights

import (
	"halocue/audio/command"
	"halocue/internal/coach"
	"halocue/internal/coach/night"
	"halocue/internal/cue"
	"halocue/internal/observe"
	"halocue/internal/simulate/telescope"
)

// Options says which nights are run.
type Options struct {
	Draw  DrawOptions
	FPS   float64 // 0 is 10
	Limit float64 // seconds after which the stream ends; 0 is 1500
	Words *Speech // nil: a new one

	Change   func(*telescope.Night) // changes the night that was drawn; may be nil
	Person   string                 // the person whose hands they are, Mixed, or "" as the night was drawn
	Misses   func(cue.Cue) bool     // reports whether the person fails to hear a cue; nil: hears all
	OneSided bool                   // the focuser cannot reach the other side: what is asked is not done
	Holds    bool                   // an earlier night has shown that the focuser holds, and given every cue in full
	Asks     []Ask                  // what the person says, in order of time
	Tells    bool                   // the person says so each time the focuser has gone through focus
}

// Ask is a command that the person gives, T seconds into the night.
type Ask struct {
	T       float64
	Command command.Command
}

// Mixed gives each night in turn the hands of another person.
const Mixed = "mixed"

// person returns whose hands are at work in the night of a seed.
func (o Options) person(seed uint64) (telescope.Person, error) {
	if o.Person == Mixed {
		return telescope.Persons[seed%uint64(len(telescope.Persons))], nil
	}
	return telescope.PersonNamed(o.Person)
}

// Said is a cue and when it was spoken.
type Said struct {
	Begin, End float64
	cue.Cue
	given float64
}

// Result is how a night went.
type Result struct {
	Seed      uint64
	Night     telescope.Night
	Result    string  // of the done cue; "" if the stream ended first
	Error     float64 // true |axis - target| at the claim, in tolerances
	Seconds   float64 // until the done cue begins
	Turns     int     // turn cues; one taken up again after a re-centring counts once
	Recentres int
	Sides     int
	Person    string
	Hurried   int     // cues said again to hands that had heard them and not begun yet
	Repeated  int     // cues said again, to those who had not heard them too
	Changed   int     // of these, with another amount
	Overtaken int     // other things asked for before the hands had begun the last
	Knocked   int     // times that the telescope is said to have been knocked
	Lost      int     // times that the star is said to be lost
	False     bool    // aligned was said and is not true
	Back      float64 // after command.Undo: how far from where it began the axis point is, in tolerances
	Said      []Said
	Hasty     []string // what was said again, or instead, before the hands had begun
	Heard     Heard
}

// Watch is called after every frame, if not nil.
type Watch func(v observe.Sight, truth telescope.Truth, a cue.Advice)

// Settings returns what the coach is told about a night.
func Settings(n telescope.Night, fps float64) night.Settings {
	c := n.Cell
	return night.Settings{
		Settings: coach.Settings{Telescope: n.Telescope, Knobs: c.Knobs, PitchMM: c.Pitch, BoltRadiusMM: c.BoltRadius, Locks: c.Locks},
		PixelMM:  n.Camera.Pixel, Kind: c.Kind, FPS: fps,
	}
}
