package run

import (
	"halocue/internal/observe"
	"halocue/vision/frame"
	"halocue/vision/ring"
)

// careful takes the most careful look at a few calm frames, for what the star shows of
// the secondary and the pixel. One look takes as long as many frames: it runs beside
// the night, or by the frame clock within it. The zero careful takes none.
type careful struct {
	meter  *ring.Meter // nil: no looks
	beside bool        // in a goroutine of its own

	calm    int                // frames in a row that were worth a look
	looks   int                // taken
	began   int                // calm frames when the look under way began
	rested  int                // calm frames from which on another may be taken
	running chan observe.Facts // of the look under way, which ends by itself
	found   *observe.Facts     // not handed on yet
	known   int                // looks that knew the pixel
}

const (
	calmFrames = 4 // in a row before a look: the hand has let go
	looksApart = 15
	lookRests  = 9  // times as many frames as a look took: it takes a tenth of a processor
	mostLooks  = 20 // a night, if the fringes go on saying nothing
	knownLooks = 2  // that know the pixel are enough
)

// see counts a calm frame, of which m is the quick measurement, and may begin a look.
func (c *careful) see(f *frame.Frame, m ring.Measurement) {
	if c.meter == nil {
		return
	}
	c.collect()
	if c.calm++; c.running != nil || c.calm < c.rested || c.known >= knownLooks || c.looks >= mostLooks || c.calm != calmFrames && c.calm%looksApart != 0 || m.Clipped > 0.1 {
		return
	}
	c.looks++
	c.began = c.calm
	done := make(chan observe.Facts, 1)
	if !c.beside {
		done <- facts(c.meter.Measure(f))
		c.running = done
		c.collect()
		return
	}
	own := *f
	own.Pix = append([]float32(nil), f.Pix...)
	c.running = done
	go func() { done <- facts(c.meter.Measure(&own)) }()
}

// collect takes what a look has found.
func (c *careful) collect() {
	select {
	case f := <-c.running:
		c.running, c.found = nil, &f
		c.rested = c.calm + lookRests*(c.calm-c.began)
		if f.PixelSigma > 0 {
			c.known++
		}
	default:
	}
}

// facts hands on what a look has found, once; nil for nothing new.
func (c *careful) facts() *observe.Facts {
	f := c.found
	c.found = nil
	return f
}

func facts(m ring.Measurement) observe.Facts {
	if !m.Found || !m.Split {
		return observe.Facts{}
	}
	return observe.Facts{Secondary: m.Obstruction, SecondarySigma: m.ObstructionSigma, PixelMM: m.PixelMM, PixelSigma: m.PixelSigma}
}

// Careful has the Figure take careful looks with a meter of its own, beside the night
// (by the wall clock) or within it.
func (g *Figure) Careful(m *ring.Meter, beside bool) { g.careful = careful{meter: m, beside: beside} }

// facts returns what a careful look has found since the last call, or nil.
func (g *Figure) facts() *observe.Facts {
	if g == nil {
		return nil
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.careful.facts()
}
