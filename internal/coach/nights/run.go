package nights

import (
	"fmt"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/coach"
	"halocue/internal/virtual"
)

// run is a night under way.
type run struct {
	Options
	coach *coach.Coach
	tel   *virtual.Telescope
	hands *virtual.Hands
	res   Result

	voice
	lastTurn  coach.Cue
	recentred bool
	undone    bool
	began     r2.Vec // the axis point at the start
}

// Run guides one night.
func Run(seed uint64, o Options, watch Watch) (Result, error) {
	r, err := start(seed, o)
	if err != nil {
		return Result{Seed: seed}, fmt.Errorf("night %d: %w", seed, err)
	}
	for i := 0; float64(i)/r.FPS < r.Limit; i++ {
		over, err := r.frame(float64(i)/r.FPS, watch)
		if err != nil {
			return r.res, fmt.Errorf("night %d: %w", seed, err)
		}
		if over {
			break
		}
	}
	r.end()
	return r.res, nil
}

func start(seed uint64, o Options) (*run, error) {
	if o.FPS == 0 {
		o.FPS = 10
	}
	if o.Limit == 0 {
		o.Limit = 1500
	}
	if o.Words == nil {
		words, err := NewSpeech()
		if err != nil {
			return nil, err
		}
		o.Words = &words
	}
	n := virtual.Draw(seed, o.Draw)
	if o.Change != nil {
		o.Change(&n)
	}
	c, err := coach.New(Settings(n, o.FPS))
	if err != nil {
		return nil, err
	}
	tel := virtual.New(n)
	r := &run{Options: o, coach: c, tel: tel, hands: virtual.NewHands(tel), began: tel.Truth().Axis}
	r.res = Result{Seed: seed, Night: n, Seconds: o.Limit}
	return r, nil
}

// frame plays one frame, and reports whether the night is over.
func (r *run) frame(t float64, watch Watch) (over bool, err error) {
	r.listen(r.coach, t)
	r.hands.Advance(t)
	v := r.tel.Look()
	v.T = t
	a := r.coach.See(Sight(v))
	if watch != nil {
		watch(v, r.tel.Truth(), a)
	}
	cues := a.Cues
	if r.Undo > 0 && t >= r.Undo && !r.undone {
		r.undone = true
		cues = append(cues, r.coach.Hear(coach.Undo, t).Cues...)
	}
	for _, cue := range cues {
		if over, err = r.say(cue, t); over || err != nil {
			return over, err
		}
	}
	return false, nil
}

// say speaks a cue and lets the hands hear it.
func (r *run) say(cue coach.Cue, t float64) (over bool, err error) {
	s, err := r.speak(r.coach, cue, t, r.Words)
	if err != nil {
		return false, err
	}
	r.count(s)
	if cue.Action == coach.Done {
		r.res.Result, r.res.Seconds = cue.Result, s.Begin
		return true, nil
	}
	if cue.Action == coach.OtherSide && r.OneSided || r.Misses != nil && r.Misses(cue) {
		return false, nil
	}
	r.hands.Hear(virtual.Instruction{
		Action: string(cue.Action), Knob: cue.Knob, Direction: cue.Direction,
		Turns: cue.Turns, Begin: s.Begin, End: s.End,
	})
	return cue.Code == coach.CodeUndone, nil
}

func (r *run) count(s Said) {
	r.res.Said = append(r.res.Said, s)
	r.res.Cues++
	switch s.Action {
	case coach.Turn:
		if !(r.recentred && s.Knob == r.lastTurn.Knob && s.Direction == r.lastTurn.Direction) {
			r.res.Turns++
		}
		r.lastTurn, r.recentred = s.Cue, false
	case coach.Recentre:
		r.res.Recentres++
		r.recentred = true
	case coach.OtherSide:
		r.res.Sides++
	}
}

// end holds what was claimed against the truth.
func (r *run) end() {
	tol := r.res.Night.Telescope.Tolerance()
	axis := r.tel.Truth().Axis
	r.res.Error = r2.Norm(axis) / tol
	r.res.Back = r2.Norm(r2.Sub(axis, r.began)) / tol
	r.res.False = r.res.Result == coach.Aligned && r.res.Error > 1
	r.res.Deeds = r.hands.Deeds()
}
