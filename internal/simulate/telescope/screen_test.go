package telescope

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

// Residual variance of our screens after the Zernike terms 1 to J are taken out,
// compared with Noll 1976, Table IV, in (D/r0)^(5/3) rad^2.
func TestScreensHaveNollsResiduals(t *testing.T) {
	const d, r0, points = 200.0, 50.0, 40
	want := map[int]float64{1: 1.0324, 3: 0.1347, 4: 0.1114, 6: 0.0650, 8: 0.0526, 11: 0.0378}
	left := map[int]float64{}
	var comas, count float64
	for seed := range uint64(4) {
		layers := newScreens(chance(seed, screenStream), 1024, d/40, r0)
		for _, s := range layers {
			for k := range 64 {
				at := r2.Vec{X: 1.6 * d * float64(k%8) * 2, Y: 1.6 * d * float64(k/8) * 2}
				rest, term := decompose(s.window(at, d/2), points)
				count++
				comas += (sq(term[7]) + sq(term[8])) / 2
				for j := range want {
					left[j] += rest[j]
				}
			}
		}
	}
	unit := math.Pow(d/r0, 5.0/3)
	for j, w := range want {
		allow := 0.06
		if j == 1 {
			allow = 0.15 // two tilts, few independent ones
		}
		near(t, "residual", left[j]/count/unit, w, allow*w)
	}
	near(t, "variance of a coma term", comas/count/unit, 0.00619, 0.1*0.00619)
}

// decompose takes the Zernike terms out of a phase over the pupil, one after the
// other; it returns the variance left after each, and the terms.
func decompose(w wavefront, points int) (rest, term [lastTerm + 1]float64) {
	type sample struct{ x, y, v float64 }
	var all []sample
	var mean float64
	for j := range points {
		for i := range points {
			x, y := (2*float64(i)+1)/float64(points)-1, (2*float64(j)+1)/float64(points)-1
			if x*x+y*y <= 1 {
				all = append(all, sample{x, y, w(x, y)})
				mean += all[len(all)-1].v
			}
		}
	}
	n := float64(len(all))
	for i := range all {
		all[i].v -= mean / n
		rest[1] += sq(all[i].v) / n
	}
	for k := 2; k <= lastTerm; k++ {
		for _, s := range all {
			term[k] += s.v * zernike(k, s.x, s.y) / n
		}
		for i, s := range all {
			all[i].v -= term[k] * zernike(k, s.x, s.y)
			rest[k] += sq(all[i].v) / n
		}
	}
	return rest, term
}

// The wind carries the pattern along unchanged.
func TestFlowIsFrozen(t *testing.T) {
	n := still()
	n.Sky.Seeing, n.Sky.Wind, n.Sky.Slow = 2, 5, 0
	f := newFlow(n)
	const dt = 0.004
	shift := r2.Scale(dt/f.radius, f.wind[0])
	a, b := f.wave(1), f.wave(1+dt)
	mean := a(shift.X, shift.Y) - b(0, 0) // piston does not matter
	for i := range 50 {
		x, y := 0.5*math.Cos(float64(i)), 0.5*math.Sin(float64(i)*1.7)
		near(t, "phase", a(x+shift.X, y+shift.Y)-b(x, y)-mean, 0, 0.002)
	}
}
