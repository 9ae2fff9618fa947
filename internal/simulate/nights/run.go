package nights

import (
	"cmp"
	"fmt"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio/command"
	"halocue/internal/coach"
	"halocue/internal/coach/night"
	"halocue/internal/cue"
	"halocue/internal/simulate/telescope"
)

// run is a night under way.
type run struct {
	Options
	coach *night.Coach
	tel   *telescope.Telescope
	hands *telescope.Hands
	res   Result

	voice
	lastTurn  cue.Cue
	recentred bool
	asks      int    // how many of Asks were said
	asked     *Said  // what the hands were last asked to do, or nil
	deeds     int    // what they had done by then
	again     bool   // it was asked before
	unheard   bool   // and was not heard, at least once
	began     r2.Vec // the axis point at the start
	ear       ear
	through   int // deeds of which it has been said that they went through focus
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
	o.FPS, o.Limit = cmp.Or(o.FPS, 10), cmp.Or(o.Limit, 1500)
	if o.Words == nil {
		words, err := newSpeech()
		if err != nil {
			return nil, err
		}
		o.Words = &words
	}
	n := Draw(seed, o.Draw)
	var p telescope.Person
	if o.Person != "" {
		var err error
		if p, err = o.person(seed); err != nil {
			return nil, err
		}
		n.Skill = p.Skill
	}
	if o.Change != nil {
		o.Change(&n)
	}
	settings := Settings(n, o.FPS)
	if o.Holds || p.Knows {
		settings.Memory = &coach.Memory{Holds: o.Holds, Heard: kinds()}
	}
	c, err := night.New(settings)
	if err != nil {
		return nil, err
	}
	tel := telescope.New(n)
	r := &run{Options: o, coach: c, tel: tel, hands: telescope.NewHands(tel), began: tel.Truth().Axis, ear: newEar()}
	r.res = Result{Seed: seed, Night: n, Person: p.Name, Seconds: o.Limit}
	return r, nil
}

// frame plays one frame, and reports whether the night is over.
func (r *run) frame(t float64, watch Watch) (over bool, err error) {
	r.listen(r.coach, t)
	r.hands.Advance(t)
	v := r.tel.Look()
	v.T = t
	a := r.coach.See(v)
	r.ear.hear(t, 1/r.FPS, r.res.Night.Telescope.Tolerance(), r.tel.Truth(), a)
	if watch != nil {
		watch(v, r.tel.Truth(), a)
	}
	cues := a.Cues
	for ; r.asks < len(r.Asks) && t >= r.Asks[r.asks].T; r.asks++ {
		cues = append(cues, r.coach.Hear(r.Asks[r.asks].Command, t).Cues...)
	}
	if r.wentThrough() {
		cues = append(cues, r.coach.Hear(command.OtherSide, t).Cues...)
	}
	for _, cue := range cues {
		if over, err = r.say(cue, t); over || err != nil {
			return over, err
		}
	}
	return false, nil
}

// wentThrough reports, once, that a person who tells has come to the end of a racking
// through focus.
func (r *run) wentThrough() bool {
	deeds := r.hands.Deeds()
	new := deeds[r.through:]
	if !r.Tells || r.hands.Busy() || !slices.ContainsFunc(new, func(d telescope.Deed) bool { return d.Action == cue.OtherSide }) {
		return false
	}
	r.through = len(deeds)
	return true
}

// say speaks a cue and lets the hands hear it.
func (r *run) say(c cue.Cue, t float64) (over bool, err error) {
	s, err := r.speak(r.coach, c, t, r.Words)
	if err != nil {
		return false, err
	}
	r.count(s)
	if c.Action == cue.Done {
		r.res.Result, r.res.Seconds = c.Result, s.Begin
		return true, nil
	}
	if c.Action == cue.OtherSide && r.OneSided || r.Misses != nil && r.Misses(c) {
		r.unheard = r.unheard || !r.again
		return false, nil
	}
	missed := len(r.hands.Missed())
	defer func() { r.unheard = r.unheard || len(r.hands.Missed()) > missed }()
	r.hands.Hear(cue.Instruction{
		Action: c.Action, Knob: c.Knob, Direction: c.Direction,
		Turns: c.Turns, Begin: s.Begin, End: s.End, Again: c.Again, Goal: c.Goal, Back: c.Code == cue.CodeLostByKnob,
	})
	return c.Code == cue.CodeUndone, nil
}

func (r *run) count(s Said) {
	r.res.Said = append(r.res.Said, s)
	r.compare(s)
	switch {
	case s.Code == cue.CodeKicked:
		r.res.Knocked++
	case s.Code == cue.CodeStarLost:
		r.res.Lost++
	}
	switch s.Action {
	case cue.Turn:
		if !(r.recentred && s.Knob == r.lastTurn.Knob && s.Direction == r.lastTurn.Direction) {
			r.res.Turns++
		}
		r.lastTurn, r.recentred = s.Cue, false
	case cue.Recentre:
		r.res.Recentres++
		r.recentred = true
	case cue.OtherSide:
		r.res.Sides++
	}
}

// compare finds out whether a cue is the one before it said again: the same thing
// to do, while the hands have done nothing since.
func (r *run) compare(s Said) {
	switch s.Action {
	case cue.Turn, cue.Recentre, cue.Defocus, cue.OtherSide, cue.Lock:
	case cue.Stop, cue.Wait:
		r.asked = nil // the hands are off the knobs
		return
	default:
		return
	}
	last := r.asked
	r.again = last != nil && last.Action == s.Action && last.Knob == s.Knob && last.Direction == s.Direction && len(r.hands.Deeds()) == r.deeds
	if r.again {
		r.res.Repeated++
		r.hasty("again", s, *last)
		if !r.unheard {
			r.res.Hurried++
		}
		if last.Turns != s.Turns {
			r.res.Changed++
		}
	} else {
		if last != nil && len(r.hands.Deeds()) == r.deeds && !r.unheard {
			r.res.Overtaken++
			r.hasty("overtaken", s, *last)
		}
		r.unheard = false
	}
	r.asked, r.deeds = &s, len(r.hands.Deeds())
}

func (r *run) hasty(how string, s, last Said) {
	r.res.Hasty = append(r.res.Hasty, fmt.Sprintf("%.1f %s after %.1f s: %s %s %s %.3f, was %s %s %.3f, heard %v: %s", s.Begin, how, s.Begin-last.End,
		s.Code, s.Knob, s.Direction, s.Turns, last.Code, last.Knob, last.Turns, !r.unheard, s.Reason))
}

// end compares what was claimed with the truth.
func (r *run) end() {
	tol := r.res.Night.Telescope.Tolerance()
	axis := r.tel.Truth().Axis
	r.res.Error = r2.Norm(axis) / tol
	r.res.Back = r2.Norm(r2.Sub(axis, r.began)) / tol
	r.res.False = r.res.Result == cue.Aligned && r.res.Error > 1
	r.res.Heard = r.ear.Heard
}
