package telescope

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/frame"
)

// renderer draws frames of one telescope; it holds what can be used again.
type renderer struct {
	sensor *sensor
	patch  patch
	quick  geometric
	exact  *diffraction
	flow   *flow
	band   []float64
}

// Render draws what the camera sees now into f; Seq, T and Name are left alone.
// It takes milliseconds: near focus, and where coma folds the ring over, by a
// coarse diffraction, else geometrically. Night.Exact draws every frame by
// diffraction through moving phase screens, which takes a hundred times longer.
func (t *Telescope) Render(f *frame.Frame) {
	if t.view == nil {
		t.view = &renderer{sensor: newSensor(t.night, t.light), band: band(5)}
	}
	r, tr := t.view, t.Truth()
	p := t.pupil(tr)
	switch {
	case !t.night.Exact && r.quick.fits(&p):
		r.drawQuick(t, &p, tr)
	default:
		r.drawExact(t, &p, tr)
	}
	r.sensor.expose(&r.patch, f)
}

func (r *renderer) drawQuick(t *Telescope, p *pupil, tr Truth) {
	n := t.night
	pixel := n.Camera.Pixel
	smear := r2.Norm(t.velocity) * n.Camera.Exposure
	sd := math.Sqrt(sq(0.6*n.blur())+sq(n.Sky.Soft)+(sq(smear)+sq(pixel))/12) / pixel
	r.quick.draw(&r.patch, p, t.air, n, r2.Add(tr.Star, tr.Sag), n.RadiusPX(t.z), sd, r.band)
}

// drawExact puts the star into the patch by diffraction.
func (r *renderer) drawExact(t *Telescope, p *pupil, tr Truth) {
	n := t.night
	if r.exact == nil {
		size := 128
		if n.Exact {
			if size = n.Grid; size == 0 {
				size = 256
			}
		}
		r.exact = newDiffraction(size)
	}
	switch {
	case t.air.strength == 0 && t.air.lean == 0:
	case n.Exact:
		if r.flow == nil {
			r.flow = newFlow(n)
		}
		p.air = r.flow.wave(t.t)
	default:
		p.air = t.air.wave
	}
	s := r.exact.diffract(p, n.Telescope.FocalRatio(), r.band)
	smear := r2.Scale(n.Camera.Exposure, t.velocity)
	if s.flip {
		smear = r2.Scale(-1, smear)
	}
	s.soften(r.exact.g, n.Camera.Pixel, n.Sky.Soft, smear.X, smear.Y)
	r.lay(s, n, r2.Add(tr.Star, tr.Sag))
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
			r.patch.e[j*r.patch.w+i] = float32(gain * s.at(dx, dy))
		}
	}
}
