package run

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/measure"
	"halocue/prompts"
	"halocue/vision/frame"
	"halocue/vision/ring"
)

// FigureMeter is a Meter which also looks at what the ring shows besides coma, to
// remark it when the night is over: astigmatism turns through focus and spherical
// aberration changes its sign, so that neither is taken for a camera that is
// askew. Which side is which does not matter, only that they are two; so it goes by
// the rackings through focus that the coach asks for. Track may run beside the rest.
type FigureMeter struct {
	meter *ring.Meter
	job   measure.Job

	careful careful

	mu      sync.Mutex // guards all below
	passing bool       // asked to go through focus,
	small   bool       // and the ring has been lost or small since
	radius  float64    // of the ring before, px
	last    ring.Circle
	now     int // which of the sides
	sides   [2]figureSide
	side    string // the coach's, of the side now
}

// figureSide is what was seen on one side of focus.
type figureSide struct {
	frames []measure.Measured
	votes  map[string]int // what the coach took it for, in frames
}

// taken returns the side that the coach took this one for, "" where it was in doubt.
func (s *figureSide) taken() string {
	for _, side := range [2][2]string{{"inside", "outside"}, {"outside", "inside"}} {
		if n := s.votes[side[0]]; n > 5 && n > 4*s.votes[side[1]] {
			return side[0]
		}
	}
	return ""
}

const (
	figureMost  = 300 // frames a side
	figureLeast = 10
	calmMove    = 6 // px from frame to frame
)

// NewFigureMeter returns one that measures with m. It uses the telescope and the pixel of j.
func NewFigureMeter(m *ring.Meter, j measure.Job) *FigureMeter {
	g := &FigureMeter{meter: m, job: j}
	for i := range g.sides {
		g.sides[i].votes = map[string]int{}
	}
	return g
}

// Track measures a frame.
func (g *FigureMeter) Track(f *frame.Frame) ring.Measurement {
	m := g.meter.Track(f)
	g.mu.Lock()
	defer g.mu.Unlock()
	if !g.calm(m) {
		return m
	}
	g.careful.see(f, m)
	s := &g.sides[g.now]
	if len(s.frames) >= figureMost {
		return m
	}
	if k, ok := g.meter.QuickAberrations(f, m); ok {
		s.frames = append(s.frames, measure.Measured{Measurement: m, Figure: k})
		s.votes[g.side]++
	}
	return m
}

// calm follows the ring through focus, and reports whether it stands still on one
// side of it.
func (g *FigureMeter) calm(m ring.Measurement) bool {
	last := g.last
	g.last = m.Ring
	if g.passing {
		switch {
		case !m.Found || m.Ring.Radius < 0.6*g.radius:
			g.small = true
		case g.small:
			g.passing, g.small, g.now = false, false, 1-g.now
		}
		return false
	}
	if !m.Found {
		return false
	}
	g.radius = m.Ring.Radius
	moved := r2.Norm(r2.Vec{X: m.Ring.X - last.X, Y: m.Ring.Y - last.Y})
	return moved < calmMove && math.Abs(m.Ring.Radius-last.Radius) < 0.03*m.Ring.Radius
}

// follow learns from the coach what is asked for, and which side it believes in.
func (g *FigureMeter) follow(a cue.Advice) {
	if g == nil {
		return
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	g.side = a.Estimate.Side
	for _, c := range a.Cues {
		if c.Action == cue.OtherSide {
			g.passing = true
		}
	}
}

// remarks returns what to say of the ring's figure once the mirror is true: nothing if the
// coach took both sides for the same.
func (g *FigureMeter) remarks() (cues []prompts.Cue) {
	if g == nil {
		return nil
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	a, b := g.sides[0], g.sides[1]
	if len(a.frames) < figureLeast || len(b.frames) < figureLeast || a.taken() != "" && a.taken() == b.taken() {
		return nil
	}
	for _, n := range g.job.Remarks(a.frames, b.frames) {
		if n.Code == measure.NoteAstigmatism || n.Code == measure.NoteSpherical {
			cues = append(cues, prompts.Cue{Code: n.Code})
		}
	}
	return cues
}
