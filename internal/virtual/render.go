package virtual

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/frame"
)

// renderer draws frames of one telescope; it holds what can be used again.
type renderer struct {
	sensor  *sensor
	patch   patch
	exact   *diffraction
	band    []float64
	screens *screens
}

// Render draws what the camera sees now into f: T is the time up to which the
// telescope has been advanced; Seq and Name are left alone.
func (t *Telescope) Render(f *frame.Frame) {
	r := t.renderer()
	tr := t.Truth()
	r.drawExact(t, tr)
	r.sensor.expose(&r.patch, f)
}

func (t *Telescope) renderer() *renderer {
	if t.view == nil {
		t.view = &renderer{sensor: newSensor(t.night, t.light), band: band(7)}
	}
	return t.view
}

// drawExact puts the star into the patch by diffraction.
func (r *renderer) drawExact(t *Telescope, tr Truth) {
	n := t.night
	if r.exact == nil {
		r.exact = newDiffraction(256)
	}
	p := t.pupil(tr)
	s := r.exact.diffract(&p, n.Telescope.FocalRatio(), r.band)
	smear := r2.Scale(n.Camera.Exposure, t.velocity)
	if s.flip {
		smear = r2.Scale(-1, smear)
	}
	s.soften(r.exact.g, n.Camera.Pixel, n.Sky.Soft, smear.X, smear.Y)
	r.lay(s, n, tr.Star)
}

// lay puts a stamp about the star, mm from the frame's centre, into the patch.
func (r *renderer) lay(s stamp, n Night, star r2.Vec) {
	c := n.Camera
	x := star.X/c.Pixel + float64(c.Width-1)/2
	y := star.Y/c.Pixel + float64(c.Height-1)/2
	r.patch.reset(x, y, s.step*float64(s.n)/2/c.Pixel, c)
	gain := n.Sky.Flux * c.Pixel * c.Pixel
	for j := range r.patch.h {
		dy := (float64(r.patch.y0+j) - y) * c.Pixel
		for i := range r.patch.w {
			dx := (float64(r.patch.x0+i) - x) * c.Pixel
			r.patch.e[j*r.patch.w+i] = float32(gain * math.Max(s.at(dx, dy), 0))
		}
	}
}
