package spikes

import (
	"math"

	"halocue/vision/frame"
	"halocue/vision/robust"
)

// polar is the light about the star: circles one px apart, less what goes all
// the way round.
type polar struct {
	star
	from  int
	rings []circle
}

// circle is one of them.
type circle struct {
	r     float64
	level float64       // median, ADU
	noise float64       // robust RMS about it
	v     [dirs]float64 // less the level; NaN off the frame
}

// around samples the circles that lie outside the core, as far as half of each is
// on the frame.
func around(f *frame.Frame, s star) *polar {
	p := &polar{star: s, from: max(smallest, int(math.Ceil(coreTimes*s.core)))}
	var sin, cos [dirs]float64
	for k := range dirs {
		sin[k], cos[k] = math.Sincos(2 * math.Pi * float64(k) / dirs)
	}
	for r := p.from; r < max(f.Width, f.Height); r++ {
		c := circle{r: float64(r)}
		var seen []float64
		for k := range dirs {
			v, ok := f.At(s.at.X+c.r*cos[k], s.at.Y+c.r*sin[k])
			if !ok {
				v = math.NaN()
			} else {
				seen = append(seen, v)
			}
			c.v[k] = v
		}
		if len(seen) < dirs/2 {
			break
		}
		c.level = robust.Median(seen)
		// Spikes only add light, so the noise is estimated from the darker half.
		c.noise = max(c.level-robust.Quickselect(seen, len(seen)*16/100), s.noise/2, 0.3)
		for k := range dirs {
			c.v[k] -= c.level
		}
		p.rings = append(p.rings, c)
	}
	return p
}

// What counts as a spike: sigmas of the whole line, and of each side of it where both are
// on the frame (judgement: noise and round stars give none in the tests).
const (
	leastSigmas = 8
	leastSide   = 4
	apart       = 6 * dirs / 360 // directions: nearer ones are one spike, perhaps split
)

// lines returns the directions of lines that stand out, radians, 0 to pi, the
// surest first.
func (p *polar) lines() (angles []float64) {
	var score, side [dirs]float64
	for k := range dirs {
		side[k] = p.along(k)
	}
	background(&side)
	noise := scatter(side[:])
	const half = dirs / 2
	for k := range half {
		score[k] = (side[k] + side[k+half]) / math.Sqrt2 / noise
	}
	for len(angles) < maxLines {
		best := 0
		for k := range half {
			if score[k] > score[best] {
				best = k
			}
		}
		if score[best] < leastSigmas {
			break
		}
		if min(side[best], side[best+half]) > leastSide*noise {
			angles = append(angles, float64(best)*2*math.Pi/dirs)
		}
		for d := -apart; d <= apart; d++ {
			score[(best+d+half)%half] = 0
		}
	}
	return angles
}

// along adds up the light in one direction. A spike fades as 1/r^2 (in white light, in which
// the vane's sinc^2 is evened out), and each circle is weighted so that such a spike stands
// out from the noise most. One circle counts no more than a hundred sigmas: without noise the
// innermost alone would decide.
func (p *polar) along(k int) float64 {
	var sum, norm float64
	for i := range p.rings {
		c := &p.rings[i]
		if math.IsNaN(c.v[k]) {
			continue
		}
		w := 1 / (c.r * c.r * c.noise)
		sum += w * min(c.v[k]/c.noise, 100)
		norm += w * w
	}
	if norm == 0 {
		return 0
	}
	return sum / math.Sqrt(norm)
}

// background takes off what varies slowly with the direction: a star that is not
// round, a gradient.
func background(v *[dirs]float64) {
	const reach = 20 * dirs / 360
	raw := *v
	window := make([]float64, 0, 2*reach+1)
	for k := range v {
		window = window[:0]
		for d := -reach; d <= reach; d++ {
			window = append(window, raw[(k+d+dirs)%dirs])
		}
		v[k] -= robust.Quickselect(window, reach*3/4) // spikes only brighten
	}
}

// scatter returns the robust RMS of what is mostly noise about 0.
func scatter(v []float64) float64 {
	a := make([]float64, len(v))
	for i, x := range v {
		a[i] = math.Abs(x)
	}
	return max(robust.Scatter(a), 1e-9)
}
