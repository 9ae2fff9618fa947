package run

import (
	"testing"

	"halocue/internal/observe"
	"halocue/internal/optics"
	"halocue/vision/frame"
	"halocue/vision/ring"
)

// A careful look beside the night takes a tenth of a processor: the longer it took, the
// later the next.
func TestCarefulLooksRest(t *testing.T) {
	c := careful{meter: ring.NewMeter(ring.Config{Telescope: optics.Telescope{Aperture: 200, FocalLength: 1000}}), beside: true}
	dark := frame.New(64, 48)
	for c.done < 1 {
		c.see(dark, ring.Measurement{})
	}
	<-c.running
	c.running = make(chan observe.Facts, 1) // as if it took 20 frames
	for range 20 {
		c.see(dark, ring.Measurement{})
	}
	c.running <- observe.Facts{}
	at := c.calm
	for c.done < 2 && c.calm < 1000 {
		c.see(dark, ring.Measurement{})
	}
	if rest := c.calm - at; rest < 9*20 || rest > 9*20+carefulEach {
		t.Errorf("the next came after %d frames", rest)
	}
}
