package telescope

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/optics"
)

// Demo is the night of the demonstration: a 150 mm F/5 on a quiet evening, its
// mirror knocked out of true on the way.
func Demo(seed uint64) Night {
	t := optics.Telescope{Aperture: 150, FocalLength: 750, Secondary: 37}
	n := Night{
		Seed: seed, Telescope: t, Skill: Clumsy,
		Cell: Cell{
			Kind: Spring, Knobs: cue.UsualKnobs(), Pitch: 0.8, BoltRadius: 60, Backlash: 0.02,
			LockShift: 0.1 * t.Tolerance(),
		},
		Spider: Spider{Vanes: 4, Angle: 0.3, Thickness: 0.8, Clips: 3, ClipAngle: 0.9, ClipSize: 5},
		Camera: Camera{
			Width: 1280, Height: 960, Pixel: 0.00375, Rotation: 0.5, Mirrored: true,
			Exposure: 0.02, Bits: 8, FullWell: 8000, Read: 3, Hot: 4,
		},
		Sky:   Sky{Seeing: 2, Wind: 6, Slow: 0.15, Back: 60},
		Mount: Mount{Drift: r2.Vec{X: 0.0006, Y: -0.0003}, Shake: 0.002, ShakeHz: 3, Touch: 0.004},
		XSec:  r2.Vec{X: 1.2, Y: -0.8},
		Z:     3.4,
	}
	r := chance(seed, drawStream)
	n.Axis = polar(uniform(r, 2, 3), uniform(r, -math.Pi, math.Pi))
	n.Star = polar(0.5, uniform(r, -math.Pi, math.Pi))
	n.Sky.Flux = 1
	n.Sky.Flux = 0.5 / n.Level(n.Z)
	return n
}
