package ring

import (
	"math"
	"testing"

	"halocue/internal/optics"
	"halocue/vision/frame"
)

// The Fresnel number of the secondary, eps^2 N, decides whether diffraction leaves a dark
// middle. From darkFrom on a shadow is found and right; below it is right or refused,
// never wrong.
func TestDiffractionFillsASmallShadow(t *testing.T)      { diffractionFillsASmallShadow(t, false) }
func TestProveDiffractionFillsASmallShadow(t *testing.T) { diffractionFillsASmallShadow(t, true) }

func diffractionFillsASmallShadow(t *testing.T, careful bool) {
	const darkFrom = 0.8
	tel := optics.Telescope{Aperture: 200, FocalLength: 1200}
	for _, eps := range []float64{0.1, 0.15, 0.2, 0.3, 0.45} {
		for _, dark := range []float64{0.1, 0.2, 0.3, 0.4, 0.6, darkFrom, 1.2, 2} {
			n := dark / (eps * eps)
			if n < 4 || n > mostFresnel(256, 0.05) {
				continue
			}
			const r, lean = 80.0, 0.05
			pixel := n * 2 * tel.FocalRatio() * optics.Wavelength / r
			c := newCanvas(grid{256, 5, false})
			var q params
			q[pR], q[pEps], q[pBlur], q[pOX] = r, eps, 1, lean
			q[pKX] = -lean / (1 - eps*eps)
			c.draw(&q, n/r, 0, 1)
			f := frame.New(320, 320)
			f.White = 65535
			var at tap
			for i := range f.Pix {
				f.Pix[i] = 500 + 5*float32(i%7)
				if x, y := (float64(i%320)-160)/r, (float64(i/320)-160)/r; c.tapAt(x, y, &at) {
					f.Pix[i] += 20000 * float32(c.value(c.blurred, &at))
				}
			}
			for name, look := range looks {
				if name == "measure" && !(careful && dark == darkFrom) {
					continue // it takes a second each
				}
				m := look(NewMeter(Config{Telescope: tel, PixelMM: pixel}), f)
				e := math.Hypot(m.Offset.X-lean*r, m.Offset.Y)
				k := math.Hypot((m.Offset.X-lean*r)/m.Sigma.X, m.Offset.Y/m.Sigma.Y)
				t.Logf("eps %.2f, eps^2 N %.1f, N %.0f, %s: %v %q, off by %.4f radii, %.1f sigma", eps, dark, n, name, m.Found, m.Why, e/r, k)
				if !m.Found && dark >= darkFrom || m.Found && !(k < 5) && !(e < 0.002*r) {
					t.Errorf("eps %.2f, eps^2 N %.1f, %s: found %v (%q), off by %.4f radii, %.1f sigma", eps, dark, name, m.Found, m.Why, e/r, k)
				}
			}
		}
	}
}
