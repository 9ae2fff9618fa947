// Package virtual is the camera "virtual" or "virtual:SEED": a built-in telescope by
// night or by day, the settings that agree with it, and its hands.
package virtual

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/config"
	"halocue/internal/cue"
	"halocue/internal/simulate/indoors"
	"halocue/internal/simulate/telescope"
	"halocue/vision"
)

// FPS is how many frames a second a small computer can draw and measure.
const FPS = 10

// Seed reads the source "virtual" or "virtual:SEED".
func Seed(source string) (seed uint64, ok bool, err error) {
	rest, ok := strings.CutPrefix(source, "virtual")
	if !ok || rest != "" && rest[0] != ':' {
		return 0, false, nil
	}
	if rest == "" {
		return 1, true, nil
	}
	seed, err = strconv.ParseUint(rest[1:], 10, 64)
	if err != nil {
		return 0, false, fmt.Errorf("camera %q: give the virtual telescope's seed as a whole number, as in virtual:7", source)
	}
	return seed, true, nil
}

// Options are those of a source by the frame clock, or by the wall clock.
func Options(fps float64, frames bool) telescope.SourceOptions {
	return telescope.SourceOptions{FPS: fps, Wall: !frames, Closed: vision.ErrClosed}
}

// Night is that of the demonstration, with the person's own knobs, clockwise from the top.
func Night(seed uint64, c config.Config) telescope.Night {
	n := telescope.Demo(seed)
	n.Cell.Knobs = ownKnobs(c)
	slices.SortFunc(n.Cell.Knobs, func(a, b cue.Knob) int { return cmp.Compare(math.Mod(a.Clock, 12), math.Mod(b.Clock, 12)) })
	return n
}

// Day is the scene of a seed, with the person's own knobs.
func Day(seed uint64, c config.Config) indoors.Scene {
	s := indoors.Demo(seed)
	s.Cell.Knobs = ownKnobs(c)
	return s
}

func ownKnobs(c config.Config) (all []cue.Knob) {
	for _, k := range c.MirrorCell.Knobs {
		all = append(all, cue.Knob(k))
	}
	return all
}

// Settings makes the settings agree with the virtual telescope.
func Settings(c config.Config, n telescope.Night) config.Config {
	t := n.Telescope
	c.Telescope = config.Telescope{ApertureMM: t.Aperture, FocalLengthMM: t.FocalLength, SecondaryMM: t.Secondary, SecondaryDistanceMM: t.SecondaryDistance}
	c.Camera.PixelUM, c.Camera.Barlow, c.Camera.CentrePX = n.Camera.Pixel*1000, 1, nil
	c.MirrorCell = config.MirrorCell{ScrewPitchMM: n.Cell.Pitch, ScrewCircleRadiusMM: n.Cell.BoltRadius, Kind: n.Cell.Kind, Locks: n.Cell.Locks}
	c.MirrorCell.Knobs = knobs(n.Cell.Knobs)
	return c
}

// DaySettings makes the settings agree with the virtual telescope by day.
func DaySettings(c config.Config, s indoors.Scene) config.Config {
	c.Telescope = config.Telescope{ApertureMM: s.Aperture, FocalLengthMM: s.FocalLength, SecondaryMM: s.Secondary, SecondaryDistanceMM: s.SecondaryDistance}
	c.MirrorCell = config.MirrorCell{ScrewPitchMM: s.Cell.Pitch, ScrewCircleRadiusMM: s.Cell.BoltRadius, Kind: s.Cell.Kind}
	c.MirrorCell.Knobs = knobs(s.Cell.Knobs)
	return c
}

func knobs(all []cue.Knob) (out []config.Knob) {
	for _, k := range all {
		out = append(out, config.Knob(k))
	}
	return out
}

// Hands gives a virtual night the hands of a person; "" leaves them as they are.
func Hands(n *telescope.Night, name string) error {
	if name == "" {
		return nil
	}
	p, err := telescope.PersonNamed(name)
	if err != nil {
		return err
	}
	n.Skill = p.Skill
	return nil
}

// Camera is a virtual camera that can be turned in the focuser.
type Camera struct {
	vision.Source
	night  telescope.Night
	fps    float64
	frames bool
}

// NewCamera begins the night before a camera.
func NewCamera(n telescope.Night, fps float64, frames bool) *Camera {
	c := &Camera{night: n, fps: fps, frames: frames}
	c.begin(n)
	return c
}

func (c *Camera) begin(n telescope.Night) {
	c.Source = telescope.NewSource(n, Options(c.fps, c.frames))
	if !c.frames {
		c.Source = vision.Newest(c.Source)
	}
}

// Turn begins again with the camera turned from how it stood at first, radians.
func (c *Camera) Turn(by float64) {
	c.Source.Close()
	turned := c.night
	turned.Camera.Rotation += by
	for _, v := range []*r2.Vec{&turned.Star, &turned.Axis, &turned.Mount.Drift} {
		*v = r2.Rotate(*v, by, r2.Vec{})
	}
	c.begin(turned)
}

// InFocus racks the virtual telescope to focus and opens its shutter long; one
// vane is bent, so that there is something to be measured.
func InFocus(n telescope.Night) telescope.Night {
	n.Z, n.Exact, n.Grid = 0, true, 1024
	n.Star, n.Sky.Flux = r2.Vec{}, 3e7
	n.Spider.Bent = []float64{0, 0.05}
	return n
}

// Drifting stops the virtual telescope's drive: the star drifts by so many radians a
// second, and is in the middle after half of the seconds.
func Drifting(n telescope.Night, rate, seconds float64) telescope.Night {
	n.Mount.Drift = r2.Rotate(r2.Vec{X: rate * n.Telescope.FocalLength}, 0.3, r2.Vec{})
	n.Star = r2.Scale(-seconds/2, n.Mount.Drift)
	return n
}
