package telescope

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

// grip is one movement of a turn.
type grip struct {
	ease
	turns float64
}

type turning struct {
	knob  int
	parts []grip
	done  float64 // turns so far
}

func (m *turning) step(tel *Telescope, t float64) bool {
	sum, over := 0.0, true
	for _, g := range m.parts {
		p := g.part(t)
		sum += g.turns * p
		over = over && p >= 1
	}
	if sum != m.done {
		tel.Turn(m.knob, sum-m.done)
		m.done = sum
	}
	return over
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
