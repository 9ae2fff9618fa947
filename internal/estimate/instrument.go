package estimate

import (
	"math"

	"halocue/internal/optics"
)

// Instrument is a telescope and its camera as the filter needs them.
type Instrument struct {
	Telescope   optics.Telescope
	Pixel       float64 // side of a frame pixel, mm, > 0
	Tolerance   float64 // how far the axis point may be from the target, mm, > 0
	StarPerTurn float64 // how far a turn of a knob takes the star, as the thread has it, mm, > 0
}

// offsetPerField is the shadow's offset per mm of the star from the axis point, > 0.
func (o Instrument) offsetPerField() float64 { return o.Telescope.OffsetPerField() }

// airOffset returns the RMS of the shadow's offset, mm per axis, that air of
// Fried parameter r0 gives a single short exposure.
func (o Instrument) airOffset(r0 float64) float64 {
	return o.offsetPerField() * o.Telescope.AirComa(r0) / o.Telescope.ComaRMS(1)
}

// fried returns the Fried parameter, mm, of air that leans the shadow by sd mm:
// airOffset the other way round.
func (o Instrument) fried(sd float64) float64 {
	if sd <= 0 {
		return 0
	}
	return 100 * math.Pow(o.airOffset(100)/sd, 6.0/5)
}
