package audio

import (
	"math"
	"math/cmplx"
)

// biquad is a second-order filter with a0 = 1.
type biquad struct {
	b0, b1, b2, a1, a2 float64
}

// The K weighting of ITU-R BS.1770-4, Annex 1, Tables 1 and 2, at 48 kHz: the
// shelf of a head and the high-pass.
var (
	kShelf    = biquad{1.53512485958697, -2.69169618940638, 1.19839281085285, -1.69065929318241, 0.73248077421585}
	kHighPass = biquad{1, -2, 1, -1.99004745483398, 0.99007225036621}
)

// filter returns the filtered signal.
func (q biquad) filter(in []float64) []float64 {
	out := make([]float64, len(in))
	var x1, x2, y1, y2 float64
	for i, x := range in {
		y := q.b0*x + q.b1*x1 + q.b2*x2 - q.a1*y1 - q.a2*y2
		x1, x2, y1, y2 = x, x1, y, y1
		out[i] = y
	}
	return out
}

// gain is the filter's magnitude at a frequency in Hz.
func (q biquad) gain(hz float64) float64 {
	z := cmplx.Exp(complex(0, -2*math.Pi*hz/Rate))
	num := complex(q.b0, 0) + z*complex(q.b1, 0) + z*z*complex(q.b2, 0)
	den := 1 + z*complex(q.a1, 0) + z*z*complex(q.a2, 0)
	return cmplx.Abs(num / den)
}

// kGain is the K weighting's magnitude at a frequency in Hz.
func kGain(hz float64) float64 { return kShelf.gain(hz) * kHighPass.gain(hz) }

// Loudness is the integrated loudness in LUFS (ITU-R BS.1770-4: K weighting,
// blocks of 0.4 s overlapping by three quarters, gates at -70 LUFS and at 10 LU
// under the mean) of a mono signal at Rate, full scale at 1, played alike in two
// channels. A signal shorter than one block is taken whole. Silence is -Inf.
func Loudness(pcm []float32) float64 {
	x := make([]float64, len(pcm))
	for i, v := range pcm {
		x[i] = float64(v)
	}
	x = kHighPass.filter(kShelf.filter(x))

	block, step := samples(0.4), samples(0.1)
	if len(x) < block {
		return lufs(power(x))
	}
	var blocks []float64
	for i := 0; i+block <= len(x); i += step {
		if p := power(x[i : i+block]); lufs(p) > -70 {
			blocks = append(blocks, p)
		}
	}
	floor := lufs(mean(blocks)) - 10
	loud := blocks[:0]
	for _, p := range blocks {
		if lufs(p) > floor {
			loud = append(loud, p)
		}
	}
	return lufs(mean(loud))
}

// lufs is the loudness of a K-weighted mean square, alike in two channels.
func lufs(meanSquare float64) float64 { return -0.691 + 10*math.Log10(2*meanSquare) }

// power is the mean square; of nothing, zero.
func power(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return sum / math.Max(1, float64(len(x)))
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / math.Max(1, float64(len(x)))
}
