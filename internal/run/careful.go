package run

import (
	"halocue/internal/observe"
	"halocue/vision/frame"
	"halocue/vision/ring"
)

// careful measures a few calm frames with the most care, for what the star shows of the
// secondary and the pixel. That takes as long as many frames do: it runs beside the
// night, or by the frame clock within it. The zero careful does nothing.
type careful struct {
	meter  *ring.Meter // or nil
	beside bool        // in a goroutine of its own

	calm    int                // frames in a row that were worth it
	done    int                // frames that were measured so, or are now
	began   int                // calm when the one under way began
	rested  int                // calm from which on another may begin
	running chan observe.Facts // of the one under way, which ends by itself
	found   *observe.Facts     // not handed on yet
	known   int                // that told the pixel
}

const (
	calmFrames  = 4 // in a row before the first: the hand has let go
	carefulEach = 15
	carefulRest = 9  // times as many frames as one took: it takes a tenth of a processor
	mostCareful = 20 // a night, if the fringes go on saying nothing
	enoughKnown = 2  // that tell the pixel
)

// see counts a calm frame, of which m is the quick measurement, and may begin a careful one.
func (c *careful) see(f *frame.Frame, m ring.Measurement) {
	if c.meter == nil {
		return
	}
	c.collect()
	if c.calm++; c.running != nil || c.calm < c.rested || c.known >= enoughKnown || c.done >= mostCareful || c.calm != calmFrames && c.calm%carefulEach != 0 || m.Clipped > 0.1 {
		return
	}
	c.done++
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

// collect takes what was found.
func (c *careful) collect() {
	select {
	case f := <-c.running:
		c.running, c.found = nil, &f
		c.rested = c.calm + carefulRest*(c.calm-c.began)
		if f.PixelSigma > 0 {
			c.known++
		}
	default:
	}
}

// facts returns what was found since the last call, or nil.
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

// Careful has the FigureMeter measure carefully with a meter of its own, beside the night
// (by the wall clock) or within it.
func (g *FigureMeter) Careful(m *ring.Meter, beside bool) {
	g.careful = careful{meter: m, beside: beside}
}

// facts returns what a careful measurement has found since the last call, or nil.
func (g *FigureMeter) facts() *observe.Facts {
	if g == nil {
		return nil
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.careful.facts()
}
