// Package nights lets the coach guide the virtual telescope through whole nights
// without a pixel being drawn, thousands of them, and checks what it claims
// against the truth.
package nights

import (
	"fmt"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/coach"
	"halocue/internal/virtual"
)

// Options says which nights are run.
type Options struct {
	Draw  virtual.Options
	FPS   float64 // 0 is 10
	Limit float64 // seconds after which the stream ends; 0 is 1500
	Words *Speech // nil: a new one
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
	False     bool // aligned was said and is not true
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

// Run guides one night.
func Run(seed uint64, o Options, watch Watch) (Result, error) {
	if o.FPS == 0 {
		o.FPS = 10
	}
	if o.Limit == 0 {
		o.Limit = 1500
	}
	if o.Words == nil {
		words, err := NewSpeech()
		if err != nil {
			return Result{Seed: seed}, err
		}
		o.Words = &words
	}
	n := virtual.Draw(seed, o.Draw)
	res := Result{Seed: seed, Night: n}
	c, err := coach.New(Settings(n, o.FPS))
	if err != nil {
		return res, fmt.Errorf("night %d: %w", seed, err)
	}
	tel := virtual.New(n)
	hands := virtual.NewHands(tel)
	var queue []Said
	free := 0.0
	var lastTurn coach.Cue
	recentred := false
	for i := 0; float64(i)/o.FPS < o.Limit; i++ {
		t := float64(i) / o.FPS
		for len(queue) > 0 && queue[0].End <= t {
			c.Ended(queue[0].ID, queue[0].End)
			queue = queue[1:]
		}
		hands.Advance(t)
		v := tel.Look()
		a := c.See(Sight(v))
		if watch != nil {
			watch(v, tel.Truth(), a)
		}
		for _, cue := range a.Cues {
			switch cue.Action {
			case coach.Stop, coach.Wait, coach.Turn, coach.Recentre:
				for _, q := range queue {
					c.Ended(q.ID, t)
				}
				queue, free = nil, t
			}
			s := Said{Begin: max(free, t), Cue: cue}
			took, err := o.Words.Seconds(cue)
			if err != nil {
				return res, fmt.Errorf("night %d: %w", seed, err)
			}
			s.End = s.Begin + took
			free = s.End
			c.Began(cue.ID, s.Begin)
			queue = append(queue, s)
			res.Said = append(res.Said, s)
			res.Cues++
			switch cue.Action {
			case coach.Turn:
				if !(recentred && cue.Knob == lastTurn.Knob && cue.Direction == lastTurn.Direction) {
					res.Turns++
				}
				lastTurn, recentred = cue, false
			case coach.Recentre:
				res.Recentres++
				recentred = true
			case coach.OtherSide:
				res.Sides++
			case coach.Done:
				res.Result, res.Seconds = cue.Result, s.Begin
				res.Deeds = hands.Deeds()
				res.Error = r2.Norm(tel.Truth().Axis) / n.Telescope.Tolerance()
				res.False = cue.Result == coach.Aligned && res.Error > 1
				return res, nil
			}
			hands.Hear(virtual.Instruction{
				Action: string(cue.Action), Knob: cue.Knob, Direction: cue.Direction,
				Turns: cue.Turns, Begin: s.Begin, End: s.End,
			})
		}
	}
	res.Seconds = o.Limit
	res.Error = r2.Norm(tel.Truth().Axis) / n.Telescope.Tolerance()
	return res, nil
}

// Sight is a view as the coach is given it.
func Sight(v virtual.View) coach.Sight {
	return coach.Sight{
		T: v.T, Width: v.Width, Height: v.Height, Found: v.Found, Why: v.Why, Star: v.Star, Seen: v.Seen,
		Radius: v.Radius, Shadow: v.Shadow, Offset: v.Offset, Sigma: v.Sigma,
		Level: v.Level, Clipped: v.Clipped, Flags: v.Flags,
	}
}
