package measure

import (
	"math"
	"slices"

	"halocue/vision/ring"
)

// Codes of notes about what was told and what the star shows.
const (
	NotePixel     = "pixel-size"     // the fringes contradict the pixel size that was told
	NoteSecondary = "secondary-size" // the shadow contradicts the secondary that was told
)

// contradicted is the difference between the star and what was told, in one-sigmas, from
// which there is a remark (judgement).
const contradicted = 5

// mean is a mean of frames, weighted by their sigmas, and its one-sigma; 0 and 0 of none.
type mean struct{ value, sigma float64 }

func meanOf(frames []Measured, of func(Measured) (value, sigma float64)) mean {
	var w, x float64
	n, most := 0, math.Inf(1)
	for _, l := range frames {
		if v, s := of(l); l.Found && v > 0 && s > 0 {
			w, x, n = w+1/(s*s), x+v/(s*s), n+1
			most = math.Min(most, s)
		}
	}
	if n == 0 {
		return mean{}
	}
	// The colour and the mirror's figure make the same error in all frames, so the mean's
	// sigma is not smaller than the best frame's.
	return mean{x / w, most}
}

// secondary is what frames show of the secondary's diameter over the aperture.
func secondary(frames []Measured) mean {
	return meanOf(frames, func(l Measured) (float64, float64) { return l.Obstruction, l.ObstructionSigma })
}

// pixel is what the fringes of frames show of a pixel's size, mm.
func pixel(frames []Measured) mean {
	return meanOf(frames, func(l Measured) (float64, float64) { return l.PixelMM, l.PixelSigma * l.PixelMM })
}

// informed returns the job with what these frames show of the secondary and the pixel,
// where nobody told them or told them wrong.
func (j *Job) informed(frames ...Measured) *Job {
	k := *j
	if e := secondary(frames); e.value > 0 {
		told := j.Telescope.Secondary / j.Telescope.Aperture
		if told <= 0 || math.Abs(told-e.value) > contradicted*e.sigma {
			k.Telescope.Secondary = e.value * j.Telescope.Aperture
		}
	}
	wrong := false
	for _, l := range frames {
		wrong = wrong || slices.Contains(l.Flags, ring.PixelWrong)
	}
	if p := pixel(frames); p.value > 0 && (wrong || j.PixelMM <= 0 && p.sigma < ring.SurePixel*p.value) {
		k.PixelMM = p.value
	}
	return &k
}

// shown adds to a line what frames show of the secondary and the pixel, and remarks where
// that is not what was told.
func (j *Job) shown(l *Line, frames ...Measured) {
	if e := secondary(frames); e.value > 0 {
		l.Secondary, l.SecondarySigma = &e.value, &e.sigma
		told := j.Telescope.Secondary / j.Telescope.Aperture
		if told > 0 && math.Abs(told-e.value) > contradicted*e.sigma {
			l.note(NoteSecondary, j.Telescope.Secondary, e.value*j.Telescope.Aperture)
		}
	}
	if p := pixel(frames); p.value > 0 {
		um, sigma := 1000*p.value, 1000*p.sigma
		l.PixelUM, l.PixelSigma = &um, &sigma
		if j.PixelMM > 0 && math.Abs(p.value-j.PixelMM) > contradicted*p.sigma {
			l.note(NotePixel, 1000*j.PixelMM, um)
		}
	}
}
