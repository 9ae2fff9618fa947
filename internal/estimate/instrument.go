package estimate

import (
	"math"

	"halocue/internal/optics"
)

// Instrument is a telescope and its camera in the numbers that the filter needs.
type Instrument struct {
	Telescope      optics.Telescope
	Pixel          float64 // side of a frame pixel, mm, > 0
	FocalLength    float64 // mm, > 0
	FocalRatio     float64 // > 0
	OffsetPerField float64 // the shadow's offset per mm of the star from the axis point, > 0 (optics.Telescope.OffsetPerField)
	Tolerance      float64 // how far the axis point may be from the target, mm, > 0
	StarPerTurn    float64 // how far a turn of a knob takes the star, as the thread has it, mm, > 0

	silhouetteWalk float64 // mm in the pupil per mm of the star: the secondary's distance over the focal length
}

// NewInstrument derives them for a telescope: pixel is the size of a frame pixel, mm, 0 for
// the usual one; unsure is how many times larger it may be, which narrows the tolerance by
// as much; goal is the share of the tolerance to be reached, > 0; pitch is mm a turn of the
// knobs' thread, and boltRadius their circle's radius, mm.
func NewInstrument(t optics.Telescope, pixel, unsure, goal, pitch, boltRadius float64) Instrument {
	o := Instrument{
		Pixel: pixel, FocalLength: t.FocalLength, FocalRatio: t.FocalRatio(), OffsetPerField: t.OffsetPerField(),
		silhouetteWalk: t.SecondaryAt() / t.FocalLength, Tolerance: t.Tolerance() * goal, Telescope: t,
	}
	if o.Pixel == 0 {
		o.Pixel = optics.UsualPixelMM
	}
	if unsure > 1 {
		o.Tolerance /= unsure
	}
	o.StarPerTurn = 2 * t.FocalLength * optics.KnobTilt(1, pitch, boltRadius)
	return o
}

// airOffset returns the RMS of the shadow's offset, mm per axis, that air of
// Fried parameter r0 gives a single short exposure.
func (o Instrument) airOffset(r0 float64) float64 {
	return o.OffsetPerField * o.Telescope.AirComa(r0) / o.Telescope.ComaRMS(1)
}

// fried returns the Fried parameter, mm, of air that leans the shadow by sd mm:
// airOffset the other way round.
func (o Instrument) fried(sd float64) float64 {
	if sd <= 0 {
		return 0
	}
	return 100 * math.Pow(o.airOffset(100)/sd, 6.0/5)
}
