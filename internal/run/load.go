package run

// load judges whether the computer keeps up with the camera: stretch by stretch it adds up
// how long the frames took to measure, and how late the loop was woken.
type load struct {
	began  float64 // of the stretch, s
	busy   float64 // s of it that went into measuring
	frames int
	late   float64 // s of it by which the loop was woken too late
	short  bool    // it does not keep up

	second float64 // when rest was set
	behind float64 // s by which the loop was woken too late since then
	rest   float64 // s of rest after a frame, for each s that it took
}

const (
	stretch = 5.0 // s

	// Below so many frames a second a turn is followed too coarsely; above keepsUp all is
	// well again. Judgement.
	fewFrames = 10.0
	keepsUp   = 15.0
	// Few frames are the computer's fault, not the camera's, only when measuring takes
	// nearly all the time.
	allBusy, someRest = 0.9, 0.7
	// The loop waits tickEvery at most. What is beyond punctual is late: a tenth of a
	// stretch is a computer that does other things (judgement).
	punctual = 0.06 // s
	tooLate  = 0.1

	// After a frame comes a rest of up to four times what it took, so that measuring takes a
	// fifth of a processor, but no longer than longestRest.
	mostRest    = 4.0
	longestRest = 0.1 // s
)

// measured adds a frame that took so long, s.
func (l *load) measured(took float64) {
	l.busy += took
	l.frames++
}

// waited adds a wait of the loop, s, which a tick should have ended.
func (l *load) waited(s float64) {
	if s > punctual {
		l.late += s - punctual
		l.behind += s - punctual
	}
}

// judge tells at the end of each stretch whether the computer falls short, and whether
// that is new.
func (l *load) judge(t float64) (short, news bool) {
	l.yield(t)
	took := t - l.began
	if took < stretch {
		return l.short, false
	}
	rate, busy, late := float64(l.frames)/took, l.busy*(1+l.rest)/took, l.late/took
	now := rate < fewFrames && busy > allBusy || late > tooLate
	if l.short { // it does not come and go
		now = rate < keepsUp && busy > someRest || late > tooLate/2
	}
	news = now != l.short
	l.began, l.busy, l.frames, l.late, l.short = t, 0, 0, 0, now
	return now, news
}

// yield sets, each second, how long to rest after a frame. When the loop has been woken
// late for a tenth of the time, it needs the processor more than the measurement does,
// because words and stops depend on it.
func (l *load) yield(t float64) {
	if t-l.second < 1 {
		return
	}
	if l.behind > tooLate*(t-l.second) {
		l.rest = min(mostRest, 2*l.rest+1)
	} else if l.rest *= 0.9; l.rest < 0.5 {
		l.rest = 0
	}
	l.second, l.behind = t, 0
}
