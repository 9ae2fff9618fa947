package audio

import "math"

// levels holds, for one timbre, the amplitude that makes every pitch equally loud.
//
// Two published curves are used. The A weighting (IEC 61672-1) makes the pitches equally
// loud for an ear at quiet levels. The K weighting (ITU-R BS.1770) sets the loudness of
// the whole: the mean over the sound's pitches, in equal musical steps, is brought to the
// target.
type levels struct {
	logLow, perLog float64
	amp            [192]float64
}

// above is how many times the highest pitch of the range the levels reach: room
// for the sounds above it.
const above = 1.5

// newLevels levels a timbre from low to high (Hz), so that from..to, or the nearest
// step to both, has a loudness in LUFS while it sounds.
func newLevels(s spectrum, low, high, from, to, lufsTarget float64) levels {
	l := levels{logLow: math.Log(low)}
	n := float64(len(l.amp) - 1)
	l.perLog = n / math.Log(above*high/low)
	sum, count := 0.0, 0
	half := math.Exp(0.51 / l.perLog)
	for i := range l.amp {
		hz := low * math.Exp(float64(i)/l.perLog)
		a := math.Sqrt(s.weighted(hz, func(f float64) float64 { return fromDB(aWeighting(f)) }))
		l.amp[i] = 1 / a
		if hz >= from/half && hz <= to*half {
			sum += s.weighted(hz, kGain) / (a * a)
			count++
		}
	}
	g := fromDB(lufsTarget - lufs(sum/float64(count)))
	for i := range l.amp {
		l.amp[i] *= g
	}
	return l
}

// at is the amplitude at a pitch given as the logarithm of its Hz.
func (l *levels) at(logHz float64) float64 {
	x := math.Min(float64(len(l.amp)-1), math.Max(0, (logHz-l.logLow)*l.perLog))
	i := min(int(x), len(l.amp)-2)
	f := x - float64(i)
	return l.amp[i]*(1-f) + l.amp[i+1]*f
}
