package telescope

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/optics"
)

// Night determines a night: the same Night gives the same frames and the same hands.
// Lengths are mm on the sensor, in the frame's axes (x right, y down) from the frame's
// centre, unless said otherwise.
type Night struct {
	Seed      uint64
	Telescope optics.Telescope
	Cell      Cell
	Spider    Spider
	Mirror    Mirror
	Camera    Camera
	Sky       Sky
	Mount     Mount
	Skill     Skill

	Axis r2.Vec  // axis point at the start
	Star r2.Vec  // chief ray of the star at the start
	XSec r2.Vec  // the silhouette's own displacement in the pupil, mm, without any tilt
	Z    float64 // signed defocus at the start, > 0 outside focus
	// Sag is how far the drawtube displaces the camera, RMS along each axis, drawn at the
	// start and anew on each racking through focus. Axis and Star are without it.
	Sag float64

	// Exact has every frame drawn by diffraction through moving phase screens: slow.
	Exact bool
	// Grid is the side of the grid on which exact frames are computed, a multiple of
	// 16; 0 is 256. At focus it reaches 0.11 Grid F um from the star.
	Grid int
}

// Cell kinds, as in the configuration.
const (
	Spring   = "spring"    // springs push the mirror forward, nuts behind pull it back
	PushPull = "push-pull" // pull bolts adjust, push bolts lock
	Screws   = "screws"    // plain screws push the mirror forward against a clamp
)

// Cell is the mirror's cell: three knobs on a bolt circle.
//
// Which way the mirror goes: with Spring and PushPull, tightening (clockwise
// seen from behind) pulls the mirror back toward the knob; with Screws it pushes
// the mirror forward, away from it. Common practice, no source; Reverse is for
// the cells that do it the other way round (a left-hand thread, a nut in front).
type Cell struct {
	Kind       string
	Knobs      []cue.Knob // three
	Pitch      float64    // of the thread, mm a turn
	BoltRadius float64    // of the bolt circle, mm
	Backlash   float64    // turns lost whenever a knob reverses
	Reverse    bool
	Locks      bool    // each knob has a lock, snug at the start; a snug lock holds its knob
	LockShift  float64 // how far one lock moves the axis point when snugged, mm, RMS
}

// Forward returns how far a knob tightened by one turn moves the mirror forward
// (toward the sky), mm.
func (c Cell) Forward() float64 {
	d := -c.Pitch
	if c.Kind == Screws {
		d = c.Pitch
	}
	if c.Reverse {
		d = -d
	}
	return d
}

// Spider is what stands in the light besides the secondary.
type Spider struct {
	Vanes     int       // 3 or 4; 0 for none
	Angle     float64   // of the first vane, radians from the frame's x axis
	Thickness float64   // of a vane, mm
	Bent      []float64 // how far each vane is turned about its inner end, radians; may be shorter
	Clips     int       // mirror clips at the primary's edge
	ClipAngle float64   // of the first clip, radians
	ClipSize  float64   // how far a clip reaches over the mirror, mm
}

// Camera is the camera at the focus.
type Camera struct {
	Width, Height int
	Pixel         float64 // mm
	// Rotation turns the view from behind the mirror (x right, y up) into the
	// frame, radians; Mirrored says that the frame is flipped left to right first.
	Rotation float64
	Mirrored bool
	Exposure float64 // seconds
	Bits     int     // 8 or 16
	FullWell float64 // electrons at the clipping level
	Read     float64 // read noise, electrons RMS
	Hot      int     // hot pixels in the frame
}

// Sky is the light and the air.
type Sky struct {
	Flux   float64 // electrons from the whole star in one exposure
	Back   float64 // electrons from the sky per pixel
	Seeing float64 // long-exposure FWHM, arcsec at 550 nm; 0 for no air at all
	Wind   float64 // of the main layer, m/s
	Slow   float64 // share of the turbulence that sits in the tube and moves at slowWind
	// A current along the tube, or a mirror that cools, displaces the shadow as if the axis
	// point moved: by so many mm RMS along each axis, with an autocorrelation that falls to
	// 1/e after so many seconds. How large and how slow is a guess.
	Current, CurrentTau float64
	Soft                float64 // further Gaussian blur of the image (dew, optics), mm, SD
}

// slowWind is the speed of the air in and about the tube, m/s.
const slowWind = 0.25

// Fried returns r0, mm, or +Inf without air.
func (s Sky) Fried() float64 {
	if s.Seeing <= 0 {
		return math.Inf(1)
	}
	return optics.FriedParameter(s.Seeing * arcsec)
}

// Mount is what carries the tube.
type Mount struct {
	Drift     r2.Vec  // of the star, mm/s
	Shake     float64 // by wind, mm RMS per axis
	ShakeHz   float64 // its frequency
	Touch     float64 // further shake while a hand is on a knob, mm RMS per axis
	KickEvery float64 // mean seconds between kicks of the tripod; 0 for never
	Kick      float64 // a kick's size, mm RMS per axis
}

const arcsec = math.Pi / (180 * 3600)

// RadiusPX returns the ring's radius, px, at defocus z.
func (n Night) RadiusPX(z float64) float64 { return n.Telescope.RingRadius(z) / n.Camera.Pixel }

// Level returns the ring's mean brightness over the sky at defocus z as a
// fraction of clipping; above 1 where it burns out.
func (n Night) Level(z float64) float64 {
	r, e := n.RadiusPX(z), n.Telescope.Obstruction()
	return n.Sky.Flux / (math.Pi * r * r * (1 - e*e)) / n.Camera.FullWell
}
