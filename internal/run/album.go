package run

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"sync"

	"golang.org/x/image/draw"

	"halocue/vision/frame"
	"halocue/vision/ring"
	"halocue/vision/robust"
)

// album keeps two small pictures of the star for whoever reads of the night afterwards: as
// it was when the first turn was asked for, and as it was at the end. Its zero value is
// ready. see may run beside the rest.
type album struct {
	none bool // nothing keeps pictures

	mu     sync.Mutex
	last   ring.Circle
	latest *shot
	before *shot // the first, until a turn is asked for
	turned bool
}

// shot is the ring and what lies around it in one frame.
type shot struct {
	t            float64
	side         int
	pix          []float32 // side * side
	ring, shadow ring.Circle
}

// marks say where the ring is in a picture: pixels, (0, 0) the centre of the first.
type marks struct {
	Ring   mark `json:"ring"`
	Shadow mark `json:"shadow"`
}

type mark struct {
	X      float64 `json:"x"`
	Y      float64 `json:"y"`
	Radius float64 `json:"radius"`
}

const (
	shotEvery   = 1.0  // s
	shotReach   = 1.25 // half a shot's side, in the ring's radii
	pictureSide = 160  // px at most: some 20 kB each
)

// see takes a shot of a ring that stands still, once a second.
func (a *album) see(t float64, f *frame.Frame, m ring.Measurement) {
	if a.none {
		return
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	moved := math.Hypot(m.Ring.X-a.last.X, m.Ring.Y-a.last.Y)
	calm := moved < calmMove && math.Abs(m.Ring.Radius-a.last.Radius) < 0.03*m.Ring.Radius
	a.last = m.Ring
	if !m.Found || !calm || len(f.Pix) < f.Width*f.Height || a.latest != nil && t < a.latest.t+shotEvery {
		return
	}
	half := int(math.Ceil(shotReach * m.Ring.Radius))
	left, top := int(math.Round(m.Ring.X))-half, int(math.Round(m.Ring.Y))-half
	s := &shot{t: t, side: 2*half + 1, ring: m.Ring, shadow: m.Shadow}
	if s.side > 4*max(f.Width, f.Height) {
		return // no such ring
	}
	s.pix = make([]float32, s.side*s.side)
	for y := max(0, -top); y < s.side && top+y < f.Height; y++ {
		from, to := max(0, left), min(f.Width, left+s.side)
		if from < to {
			copy(s.pix[y*s.side+from-left:], f.Pix[(top+y)*f.Width+from:(top+y)*f.Width+to])
		}
	}
	for _, c := range []*ring.Circle{&s.ring, &s.shadow} {
		c.X, c.Y = c.X-float64(left), c.Y-float64(top)
	}
	a.latest = s
	if !a.turned && a.before == nil {
		a.before = s
	}
}

// turn is called when a turn is asked for: at the first, the shot before it is kept.
func (a *album) turn() *shot {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.turned {
		return nil
	}
	a.turned = true
	if a.latest != nil {
		a.before = a.latest
	}
	return a.before
}

// end returns what is to be kept at the end: a shot from before where there was no turn,
// and one from after.
func (a *album) end() (before, after *shot) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if !a.turned {
		before = a.before
	}
	if a.latest != a.before {
		after = a.latest
	}
	return before, after
}

// picture draws a shot small, and stretched as every other: the sky is black, all but the
// brightest hundredth of the ring is below white, and between them goes the square root.
func (s *shot) picture() (*image.Gray, marks) {
	var sky, light []float32
	for i, v := range s.pix {
		switch r := math.Hypot(float64(i%s.side)-s.ring.X, float64(i/s.side)-s.ring.Y) / s.ring.Radius; {
		case r > 1.1:
			sky = append(sky, v)
		case r < 1:
			light = append(light, v)
		}
	}
	black, white := quantile(sky, 0.5), quantile(light, 0.99)
	full := image.NewGray(image.Rect(0, 0, s.side, s.side))
	for i, v := range s.pix {
		x := math.Sqrt(math.Min(1, math.Max(0, float64(v-black)/math.Max(float64(white-black), 1e-9))))
		full.SetGray(i%s.side, i/s.side, color.Gray{Y: uint8(math.Round(255 * x))})
	}
	side := min(s.side, pictureSide)
	small, k := image.NewGray(image.Rect(0, 0, side, side)), float64(side)/float64(s.side)
	draw.CatmullRom.Scale(small, small.Bounds(), full, full.Bounds(), draw.Src, nil)
	place := func(c ring.Circle) mark {
		return mark{round((c.X+0.5)*k-0.5, 2), round((c.Y+0.5)*k-0.5, 2), round(c.Radius*k, 2)}
	}
	return small, marks{place(s.ring), place(s.shadow)}
}

// quantile returns the value below which the part p of the list is; 0 of none.
func quantile(list []float32, p float64) float32 {
	if len(list) == 0 {
		return 0
	}
	return robust.Quickselect(list, int(p*float64(len(list)-1)))
}

// keepPicture gives the journal a shot, nil for none.
func (n *night) keepPicture(name string, s *shot) {
	if s == nil || n.Recorder == nil {
		return
	}
	var b bytes.Buffer
	small, m := s.picture()
	err := png.Encode(&b, small)
	if err == nil {
		err = n.Recorder.Picture(name, round(s.t, 3), m, b.Bytes())
	}
	if err != nil {
		n.Recorder = nil
		n.unwritten(fmt.Errorf("keeping a picture: %w", err))
	}
}

// keepPictures is called when the night is over.
func (n *night) keepPictures() {
	before, after := n.album.end()
	n.keepPicture("before", before)
	n.keepPicture("after", after)
}
