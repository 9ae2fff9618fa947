// Package indoors simulates the view by day into a telescope's tube, as a camera sees it
// at a peephole in a plug in the focuser. Rays are traced from the peephole by way of the
// secondary to the main mirror and back. Hands turn the secondary's screws and the
// mirror's knobs as they are told.
//
// Coordinates are the tube's: z along it from the mirror's vertex to the sky, x
// across it to the focuser, y so that x, y, z is right-handed. Lengths are mm,
// angles radians.
package indoors

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/simulate/telescope"
)

// Scene determines a view: the same Scene gives the same frames.
type Scene struct {
	Seed uint64

	Aperture, FocalLength float64
	Secondary             float64 // its minor axis
	SecondaryDistance     float64 // from the mirror's vertex to where the focuser's axis meets the tube's
	Offset                float64 // of the secondary, away from the focuser and toward the mirror
	Shift                 r2.Vec  // its error of place: along y, and along z
	Tube                  float64 // inner radius

	Draw, DrawDepth float64 // the focuser's inner radius, and from the peephole to its inner edge
	Height          float64 // of the peephole over the tube's axis
	Peephole        r2.Vec  // its place off the focuser's axis: along y, and along z
	Spot            float64 // radius of the dark spot that peephole and lens make in the plug's light face
	Plug            float64 // half a turn is math.Pi: how the plug stands in the focuser
	Mark            Mark
	Clips           int     // that reach over the mirror's edge
	ClipAngle       float64 // of the first
	Vanes           int
	VaneAngle       float64

	Tilt    r2.Vec  // lean of the mirror's normal at the start: along x, and along y
	Turned  r2.Vec  // rotation of the secondary at the start: about x, and about y
	Twisted float64 // and about the tube's axis, which no screw corrects

	Cell   telescope.Cell // the mirror's: knobs by the clock as seen from behind
	Holder telescope.Cell // the secondary's: screws by the clock as seen into the open end, 12 toward the focuser
	Up     float64        // where the cell's 12 o'clock is, from x toward y
	Camera Camera
	Light  Light
	Skill  telescope.Skill
}

// Mark is the ring that is stuck on the mirror's centre.
type Mark struct {
	None         bool
	Outer, Inner float64 // radii
	At           r2.Vec  // its place off the mirror's centre
}

// Camera is the camera at the peephole.
type Camera struct {
	Width, Height int
	FocalPX       float64 // focal length in pixels
	Rotation      float64
	Aim           r2.Vec  // error of its direction
	Blur          float64 // Gaussian, px, SD
}

// Light is how bright it is by day.
type Light struct {
	Level    float64 // of the sky or wall seen in the mirror, as a fraction of clipping
	Uneven   float64 // how much it varies across the mirror, 0 to 1
	Angle    float64 // in which direction it grows
	Paper    float64 // brightness of the sheet on the tube's wall behind the secondary, 0 for black paint
	Plug     float64 // brightness of the plug's inner face
	Mark     float64 // brightness of the paper ring
	FullWell float64 // electrons at clipping
	Read     float64 // read noise, electrons RMS
}

// Demo is a scene for trying things out; each seed is another.
func Demo(seed uint64) Scene {
	r := rand.New(rand.NewPCG(seed, 0x9e3779b97f4a7c15))
	in := func(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
	both := func(sd float64) r2.Vec { return r2.Vec{X: in(-sd, sd), Y: in(-sd, sd)} }
	sizes := [][3]float64{{114, 500, 30}, {130, 650, 35}, {150, 750, 40}, {200, 800, 58}, {200, 1000, 50}, {200, 1200, 48}, {250, 1200, 63}, {300, 1500, 70}}
	size := sizes[r.IntN(len(sizes))]
	s := Scene{Seed: seed, Aperture: size[0], FocalLength: size[1], Secondary: size[2]}
	s.Tube = s.Aperture/2 + in(8, 20)
	s.SecondaryDistance = s.FocalLength - s.Tube - in(60, 80)
	// A secondary takes the whole cone and something for the field.
	s.Secondary = math.Max(s.Secondary, in(1.2, 1.4)*(s.FocalLength-s.SecondaryDistance+25)*s.Aperture/s.FocalLength)
	s.Offset = s.Secondary * s.Aperture / (4 * s.FocalLength)
	if r.Float64() < 0.25 {
		s.Offset = 0 // as many small telescopes have it
	}
	s.Shift = both(0.8)
	s.Height = s.FocalLength - s.SecondaryDistance + in(-5, 25)
	s.Draw, s.DrawDepth = 25.4, s.Height-s.Tube+in(-5, 8)
	if s.Aperture < 140 {
		s.Draw = 15.9
	}
	s.Peephole, s.Spot = both(0.8), in(8, 9.5) // a disc of black paper, punched in its middle
	if r.Float64() < 0.3 {
		s.Spot = in(2.5, 4) // a bare hole
	}
	s.Mark = Mark{Outer: in(6, 7), Inner: in(2.7, 3.2), At: both(0.5)}
	s.Clips, s.ClipAngle = []int{0, 3, 3, 4}[r.IntN(4)], in(0, 2*math.Pi)
	s.Vanes, s.VaneAngle = []int{3, 4, 4}[r.IntN(3)], in(0, 2*math.Pi)
	s.Tilt = both(0.008)
	s.Turned, s.Twisted = both(0.025), in(-0.015, 0.015)
	s.Cell = telescope.Cell{Kind: telescope.Spring, Pitch: in(0.7, 1), BoltRadius: s.Aperture * in(0.36, 0.45), Backlash: 0.02,
		Knobs: []cue.Knob{{Name: "left-hand", Clock: 8}, {Name: "right-hand", Clock: 4}, {Name: "upper", Clock: 12}}}
	s.Holder = telescope.Cell{Kind: telescope.Screws, Pitch: []float64{0.5, 0.7}[r.IntN(2)], BoltRadius: s.Secondary * in(0.24, 0.32), Backlash: 0.01,
		Knobs: []cue.Knob{{Name: "first", Clock: in(11.5, 12.5)}, {Name: "second", Clock: 4}, {Name: "third", Clock: 8}}}
	s.Up = in(-math.Pi, math.Pi)
	s.Camera = Camera{Width: 800, Height: 600, Rotation: in(-math.Pi, math.Pi), Aim: both(0.01), Blur: in(0.7, 1.4)}
	s.Camera.FocalPX = in(0.26, 0.33) * float64(s.Camera.Height) * s.Height / (s.Secondary / 2)
	s.Light = Light{Level: in(0.45, 0.85), Uneven: in(0, 0.35), Angle: in(0, 2*math.Pi), Paper: in(0.35, 0.6), Plug: in(0.3, 0.5), Mark: in(0.6, 0.8), FullWell: 12000, Read: 6}
	s.Skill = telescope.Clumsy
	return s
}
