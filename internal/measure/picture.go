package measure

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"
	"path/filepath"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/frame"
	"halocue/vision/robust"
)

// Picture shows, for a person who can see, what was found: the frames side by
// side with the outlines over them, and what it means below.
type Picture struct {
	job    *Job
	say    Say
	panels []panel
	joint  *Line
}

// panel is one frame and what was found in it.
type panel struct {
	frame *frame.Frame
	line  Line
}

// NewPicture returns a picture of what the job finds from now on. Its letters are those of
// English.
func NewPicture(j *Job, say Say) *Picture {
	p := &Picture{job: j, say: say}
	j.seen = func(f *frame.Frame, l Line) {
		if f == nil {
			p.joint = &l
			return
		}
		// Of many frames at one pointing the first and the last are shown.
		if p.panels = append(p.panels, panel{f, l}); len(p.panels) > 2 {
			p.panels = append(p.panels[:1], p.panels[2])
		}
	}
	return p
}

// The colours can be told apart by people who do not see all of them: they also differ in
// brightness, and the ring's marks stand outside of its edge, the shadow's inside.
var (
	paper      = color.RGBA{0x10, 0x10, 0x14, 0xff}
	ink        = color.RGBA{0xe6, 0xe6, 0xe6, 0xff}
	ringInk    = color.RGBA{0x56, 0xb4, 0xe9, 0xff}
	shadowInk  = color.RGBA{0xe6, 0x9f, 0x00, 0xff}
	leanInk    = color.RGBA{0xff, 0xff, 0xff, 0xff}
	allowedInk = color.RGBA{0x00, 0xc0, 0x80, 0xff}
)

// The size of a frame in the picture, and the space around it, px.
const (
	panelWidth = 900
	margin     = 8
	barLength  = 30 // of the tolerance's bar
)

// Draw returns the picture.
func (p *Picture) Draw() (image.Image, error) {
	if len(p.panels) == 0 {
		return nil, fmt.Errorf("drawing: there is no frame to draw on")
	}
	var shown []*image.RGBA
	var texts [][]string
	width, height, rows := margin, 0, 0
	for _, n := range p.panels {
		img, magnified := p.draw(n)
		shown = append(shown, img)
		w := img.Bounds().Dx()
		l := n.line
		l.File = filepath.Base(l.File)
		text := wrap(l.Words(p.say), w)
		if magnified > 0 {
			text = append(text, wrap(legend(magnified), w)...)
		}
		texts = append(texts, text)
		width, height, rows = width+w+margin, max(height, img.Bounds().Dy()), max(rows, len(text))
	}
	var below []string
	if p.joint != nil {
		below = wrap(p.joint.Words(p.say), width-2*margin)
	}
	out := image.NewRGBA(image.Rect(0, 0, width, height+3*margin+lineHeight*(rows+len(below))))
	draw.Draw(out, out.Bounds(), image.NewUniform(paper), image.Point{}, draw.Src)
	x := margin
	for i, img := range shown {
		b := img.Bounds()
		draw.Draw(out, b.Add(image.Pt(x, margin)), img, image.Point{}, draw.Src)
		write(out, x, height+2*margin, ink, texts[i])
		x += b.Dx() + margin
	}
	write(out, margin, height+2*margin+lineHeight*rows, leanInk, below)
	return out, nil
}

func legend(magnified float64) string {
	return fmt.Sprintf("Blue ticks: the ring's edge. Orange ticks: the shadow's. White arrow: the lean, %g times larger. Green bar: how long the tolerance lets it be.", magnified)
}

// draw returns a frame with what was found in it, and how many times larger the
// lean is shown; 0 where there is none.
func (p *Picture) draw(n panel) (img *image.RGBA, magnified float64) {
	img, scale := grey(n.frame)
	if !n.line.Found {
		return img, 0
	}
	at := func(x, y float64) r2.Vec { // frame px to picture px, centres of pixels
		return r2.Vec{X: (x+0.5)*scale - 0.5, Y: (y+0.5)*scale - 0.5}
	}
	ring, shadow := n.line.Ring, n.line.Shadow
	centre := at(ring.X, ring.Y)
	const width = 1.6
	pen := newPen(img)
	pen.ticks(centre, ring.Radius*scale, 10, 24, ringInk, width)
	pen.ticks(at(shadow.X, shadow.Y), shadow.Radius*scale, -4, 12, shadowInk, width)

	lean := n.line.Offset
	if p.joint != nil && p.joint.Found { // what all the frames say together
		if lean = p.joint.Offset; lean == nil {
			lean = p.joint.Coma
		}
	}
	allowed := p.job.Telescope.Tolerance() * p.job.Telescope.OffsetPerField() / p.job.pixel()
	magnified = handy(0.8 * ring.Radius / math.Max(allowed, math.Hypot(lean.X, lean.Y)))
	way := r2.Unit(r2.Vec(*lean))
	tip := r2.Add(centre, r2.Scale(magnified*scale, r2.Vec(*lean)))
	bar := r2.Add(centre, r2.Scale(allowed*magnified*scale, way))
	half := r2.Scale(barLength/2, r2.Vec{X: -way.Y, Y: way.X})
	pen.arrow(centre, tip, paper, 4*width) // or white on the bright ring would be lost
	pen.line(r2.Sub(bar, half), r2.Add(bar, half), paper, 4*width)
	pen.arrow(centre, tip, leanInk, 2*width)
	pen.line(r2.Sub(bar, half), r2.Add(bar, half), allowedInk, 2*width)
	return img, magnified
}

// handy returns the largest of 1, 2, 5, 10, 20, ... that is not above v; at least 1.
func handy(v float64) float64 {
	best := 1.0
	for d := 1.0; d <= v; d *= 10 {
		for _, k := range [3]float64{1, 2, 5} {
			if k*d <= v {
				best = k * d
			}
		}
	}
	return best
}

// grey returns a frame as a picture about panelWidth px wide, whole pixels to
// a pixel or whole pixels into one, and picture px per frame px. Black is the
// sky, white the brightest of the ring; the root makes what is faint visible.
func grey(f *frame.Frame) (img *image.RGBA, scale float64) {
	up, down := max(1, panelWidth/f.Width), max(1, (f.Width+panelWidth-1)/panelWidth)
	some := slices.Clone(f.Pix)
	black, white := robust.Median(some), robust.Quickselect(some, len(some)*998/1000)
	white = max(white, black+1)
	w, h := max(1, f.Width/down), max(1, f.Height/down)
	img = image.NewRGBA(image.Rect(0, 0, w*up, h*up))
	for y := range h * up {
		for x := range w * up {
			var sum float32
			for j := range down {
				for i := range down {
					sum += f.Pix[(y/up*down+j)*f.Width+x/up*down+i]
				}
			}
			v := (sum/float32(down*down) - black) / (white - black)
			g := uint8(220 * math.Sqrt(float64(min(max(v, 0), 1))))
			img.SetRGBA(x, y, color.RGBA{g, g, g, 0xff})
		}
	}
	return img, float64(up) / float64(down)
}
