package virtual

import "gonum.org/v1/gonum/spatial/r2"

// ease is a movement's time: it starts and ends gently.
type ease struct{ start, took float64 }

// part returns how much of the movement is behind, 0 to 1.
func (e ease) part(t float64) float64 {
	x := (t - e.start) / e.took
	switch {
	case x <= 0:
		return 0
	case x >= 1:
		return 1
	}
	return x * x * (3 - 2*x)
}

type turning struct {
	ease
	knob        int
	turns, seen float64
}

func (m *turning) step(tel *Telescope, t float64) bool {
	p := m.part(t)
	tel.Turn(m.knob, m.turns*(p-m.seen))
	m.seen = p
	return p >= 1
}

type pushing struct {
	ease
	way  r2.Vec
	seen float64
}

func (m *pushing) step(tel *Telescope, t float64) bool {
	p := m.part(t)
	tel.Push(r2.Scale(p-m.seen, m.way))
	m.seen = p
	return p >= 1
}

// racking moves the focuser and nudges the tube a little.
type racking struct {
	ease
	from, to float64
	nudge    r2.Vec
	seen     float64
}

func (m *racking) step(tel *Telescope, t float64) bool {
	p := m.part(t)
	tel.Rack((m.to - m.from) * (p - m.seen))
	tel.Push(r2.Scale(p-m.seen, m.nudge))
	m.seen = p
	return p >= 1
}

type locking struct {
	ease
	knob     int
	from, to float64
}

func (m *locking) step(tel *Telescope, t float64) bool {
	p := m.part(t)
	tel.Lock(m.knob, m.from+(m.to-m.from)*p)
	return p >= 1
}
