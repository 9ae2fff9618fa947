// Package nights lets the coach guide the virtual telescope through whole nights
// without a pixel being drawn, thousands of them, and checks what it claims
// against the truth.
package nights

import (
	"halocue/internal/coach"
	"halocue/internal/virtual"
)

// Options says which nights are run.
type Options struct {
	Draw  virtual.Options
	FPS   float64 // 0 is 10
	Limit float64 // seconds after which the stream ends; 0 is 1500
	Words *Speech // nil: a new one

	Change   func(*virtual.Night) // to the night that was drawn, or nil
	Misses   func(coach.Cue) bool // reports whether the person fails to hear a cue; nil: hears all
	OneSided bool                 // the focuser cannot reach the other side: what is asked is not done
	Undo     float64              // seconds after which the person asks for all turns to be put back; 0 never
}

// Said is a cue and when it was spoken.
type Said struct {
	Begin, End float64
	coach.Cue
}

// Result is how a night went.
type Result struct {
	Seed      uint64
	Night     virtual.Night
	Result    string  // of the done cue; "" if the stream ended first
	Error     float64 // true |axis - target| at the claim, in tolerances
	Seconds   float64 // until the done cue begins
	Turns     int     // turn cues; one taken up again after a re-centring counts once
	Recentres int
	Sides     int
	Cues      int
	False     bool    // aligned was said and is not true
	Back      float64 // after Undo: how far from where it began the axis point is, in tolerances
	Said      []Said
	Deeds     []virtual.Deed
}

// Watch is called after every frame, if not nil.
type Watch func(v virtual.View, truth virtual.Truth, a coach.Advice)

// Settings returns what the coach is told about a night.
func Settings(n virtual.Night, fps float64) coach.Settings {
	s := coach.Settings{
		Telescope: n.Telescope, PixelMM: n.Camera.Pixel, PitchMM: n.Cell.Pitch,
		BoltRadiusMM: n.Cell.BoltRadius, Kind: n.Cell.Kind, Locks: n.Cell.Locks, FPS: fps,
	}
	for _, k := range n.Cell.Knobs {
		s.Knobs = append(s.Knobs, coach.Knob{Name: k.Name, Clock: k.Clock})
	}
	return s
}

// Sight is a view as the coach is given it.
func Sight(v virtual.View) coach.Sight {
	return coach.Sight{
		T: v.T, Width: v.Width, Height: v.Height, Found: v.Found, Why: v.Why, Star: v.Star, Seen: v.Seen,
		Radius: v.Radius, Shadow: v.Shadow, Offset: v.Offset, Sigma: v.Sigma,
		Level: v.Level, Clipped: v.Clipped, Flags: v.Flags,
	}
}
