package audio

import "math"

// aWeighting is the A weighting in decibels at a frequency in Hz > 0: IEC
// 61672-1:2013, Annex E, 0 dB at 1 kHz. It says how much less a tone is heard
// than one of 1 kHz, at quiet levels.
func aWeighting(hz float64) float64 {
	const f1, f2, f3, f4 = 20.598997, 107.65265, 737.86223, 12194.217
	f := hz * hz
	num := f4 * f4 * f * f
	den := (f + f1*f1) * math.Sqrt((f+f2*f2)*(f+f3*f3)) * (f + f4*f4)
	return 20*math.Log10(num/den) + 2.000
}
