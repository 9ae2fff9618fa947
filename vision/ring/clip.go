package ring

import "math"

// clipLevel returns the level from which a pixel counts as burnt out, from the bright
// pixels of a frame that is cut at white: just below white, or below the plateau of a
// frame that was burnt out and then dimmed (by a gain, or because the camera fills only
// a part of the format).
func clipLevel(pix []float32, white float32) float64 {
	if p := plateau(pix, white); p > 0 {
		return p
	}
	if white > 0 {
		return belowCeiling * float64(white)
	}
	return math.Inf(1)
}

// belowCeiling is how far below the ceiling a pixel counts as burnt out.
const belowCeiling = 0.985

const (
	plateauBins  = 64   // of light, up to the brightest pixel
	plateauShare = 0.15 // of the lit pixels are in one bin,
	plateauOver  = 0.03 // hardly any are above,
	plateauSteps = 6    // and the light has grey steps enough to tell
)

// plateau returns the level below white at which a picture is cut flat, 0 where it is
// not. The histogram of a ring that is not cut, with its fringes and noise, falls to its
// end in a slope.
func plateau(pix []float32, white float32) float64 {
	top := float32(0)
	for _, v := range pix {
		top = max(top, v)
	}
	if top < plateauSteps || top >= belowCeiling*white && white > 0 {
		return 0
	}
	var count [plateauBins]int
	// Where there are fewer grey steps than bins, each is a bin of its own.
	scale := min(plateauBins/top, 1)
	lit := 0
	for _, v := range pix {
		if v < 0.5*top {
			continue
		}
		count[min(plateauBins-1, int(v*scale))]++
		lit++
	}
	over := 0
	for k := plateauBins - 1; float64(over) <= plateauOver*float64(lit); k-- {
		if float64(count[k]) > plateauShare*float64(lit) && lit > 100 {
			return float64(k) / float64(scale) * belowCeiling
		}
		over += count[k]
	}
	return 0
}
