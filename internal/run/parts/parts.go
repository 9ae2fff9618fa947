// Package parts makes each part of a night, of a day and of the tools from the settings,
// so that what a setting means is said in one place: source, measurement, coach, words,
// voice, mixer and what it is played on.
package parts

import (
	"context"
	"time"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/config"
	"halocue/internal/coach"
	"halocue/internal/coach/day"
	"halocue/internal/coach/night"
	"halocue/internal/cue"
	"halocue/internal/measure"
	"halocue/internal/observe"
	"halocue/internal/run"
	"halocue/internal/sky"
	"halocue/vision"
	"halocue/vision/camera"
	"halocue/vision/camera/exposure"
	"halocue/vision/frame"
	"halocue/vision/peephole"
	"halocue/vision/ring"
)

// Camera says how the camera is opened.
type Camera struct {
	FPS    float64 // of files, and of the frame clock
	Frames bool    // by the frame clock
	Wait   bool    // for one that is not there yet
	Once   bool    // one that goes away is not opened again
}

// OpenSource opens the camera that the settings name. By the wall clock, a camera that goes
// away is opened again when it is back, even as another device; with Wait, one that is not
// there yet is waited for; and old frames are dropped for the newest.
func OpenSource(ctx context.Context, w *World, c config.Camera, how Camera, events chan<- run.DeviceEvent) (vision.Source, error) {
	told := cameraEvents(events)
	open := func(ctx context.Context) (vision.Source, error) {
		o := camera.Options{FPS: how.FPS, Frames: how.Frames, Undeveloped: !how.Frames, Stdin: w.Stdin, Exposed: exposed(events)}
		if how.Once {
			return camera.Open(ctx, c.Source, o)
		}
		return camera.Keep(ctx, c.Source, o, camera.KeepOptions{Event: told})
	}
	if how.Wait && !how.Frames && c.Source != "-" {
		return vision.Newest(vision.Reopen(nil, open, vision.ReopenOptions{Event: told})), nil // the words need not wait
	}
	src, err := open(ctx)
	if err != nil || how.Frames {
		return src, err
	}
	return vision.Newest(src), nil
}

// exposed tells of a camera whose exposure cannot be set, so that the person sets it.
func exposed(events chan<- run.DeviceEvent) func(exposure.Verdict, exposure.Setting, error) {
	return func(_ exposure.Verdict, _ exposure.Setting, err error) {
		if err != nil {
			Tell(events, run.DeviceEvent{Device: "camera", State: "by-hand", Detail: err.Error(), Code: "exposure-fixed", On: true})
		}
	}
}

// cameraEvents returns what reports the states of a camera as events. A camera that was
// never there needs other words than one that went away.
func cameraEvents(events chan<- run.DeviceEvent) func(vision.DeviceState, error) {
	code := "camera-lost"
	return func(s vision.DeviceState, why error) {
		if s != vision.DeviceBack {
			code = map[vision.DeviceState]string{vision.DeviceMissing: "no-camera", vision.DeviceLost: "camera-lost"}[s]
		}
		e := run.DeviceEvent{Device: "camera", State: string(s), Code: code, On: s != vision.DeviceBack}
		if why != nil {
			e.Detail = why.Error()
		}
		Tell(events, e)
	}
}

// Meter makes the ring measurement.
func Meter(c config.Config) *ring.Meter {
	return ring.NewMeter(ring.Config{Telescope: c.Optics(), PixelMM: c.Camera.KnownPixel()})
}

// AnyMeter makes one for a telescope that need not be known: any usual one finds a ring.
func AnyMeter(c config.Config) *ring.Meter {
	if !c.Telescope.Known() {
		c.Telescope.ApertureMM, c.Telescope.FocalLengthMM = 150, 750
	}
	return Meter(c)
}

// FigureMeter makes the ring measurement that also notes what else the ring shows.
func FigureMeter(c config.Config) *run.FigureMeter {
	return run.NewFigureMeter(Meter(c), Measuring(c))
}

// Measuring returns the settings of the measurement of still frames.
func Measuring(c config.Config) measure.Job {
	return measure.Job{Telescope: c.Optics(), PixelMM: c.Camera.KnownPixel()}
}

// walk is how long so many steps take in the dark, s: one second each, and two to find the
// knob (judgement); 0 for no steps.
func walk(steps float64) float64 {
	if steps == 0 {
		return 0
	}
	return 2 + steps
}

// Coach makes the coach of a night. With unsure the pixel's size may be wrong, because a
// driver joins pixels or the owner forgot a Barlow lens: then the mirror is not called true
// until the star's fringes have confirmed the size.
func Coach(c config.Config, fps float64, m *coach.Memory, unsure bool) (*night.Coach, error) {
	s := night.Settings{
		Settings: mirror(c), PixelMM: c.Camera.KnownPixel(), Kind: c.MirrorCell.Kind,
		Corrector: c.Telescope.Corrector, FPS: fps, Memory: m, Pace: c.Coach.Pace, WalkS: walk(c.Coach.WalkSteps),
	}
	if unsure {
		s.PixelUnsure = unsurePixel
	}
	if len(c.Camera.CentrePX) == 2 {
		s.Target = &r2.Vec{X: c.Camera.CentrePX[0], Y: c.Camera.CentrePX[1]}
	}
	return night.New(s)
}

// DayCoach makes the coach of a day.
func DayCoach(c config.Config) (*day.Coach, error) { return day.New(mirror(c)) }

// mirror is what both coaches must know.
func mirror(c config.Config) coach.Settings {
	s := coach.Settings{Telescope: c.Optics(), PitchMM: c.MirrorCell.ScrewPitchMM, BoltRadiusMM: c.ScrewRadius(),
		Locks: c.MirrorCell.Locks, EarDelayS: c.Sound.DelayMS / 1000}
	for _, k := range c.MirrorCell.Knobs {
		s.Knobs = append(s.Knobs, cue.Knob(k))
	}
	return s
}

// Peephole makes the measurement of a day.
func Peephole(c config.Config) func(t float64, f *frame.Frame) observe.Sight {
	meter := peephole.NewMeter(peephole.Config{Aperture: c.Telescope.ApertureMM})
	return func(t float64, f *frame.Frame) observe.Sight {
		v := meter.Measure(f)
		s := observe.Sight{T: t, Width: f.Width, Height: f.Height, Found: v.Found, Why: string(v.Why), Level: v.Level}
		if v.Found {
			s.Down = &observe.Down{
				Primary: v.Primary.Centre, Secondary: v.Secondary.Centre, PrimaryRadius: v.Primary.Radius, SecondaryRadius: v.Secondary.Radius,
				Focuser: v.Focuser.Centre, FocuserRadius: v.Focuser.Radius, Whole: v.Whole, OffSigma: v.Secondary.Sigma + v.Primary.Sigma,
				Marked: v.Marked, Reflected: v.Reflected, Mark: v.Mark, Spot: v.Spot, SpotSigma: v.Sigma, SpotRadius: v.SpotPX, Around: v.Around[:],
			}
		}
		return s
	}
}

// Wish returns the question which star to point at. A mount with motors is taken to follow
// the sky.
func Wish(c config.Config, at time.Time) sky.Wish {
	return sky.Wish{
		Site: sky.Site{LatitudeDeg: c.Site.LatitudeDeg, LongitudeDeg: c.Site.LongitudeDeg},
		At:   at, RoofDeg: c.Site.RoofLineDeg, ApertureMM: c.Telescope.ApertureMM, Tracking: c.Drive.Tracking || c.Drive.Mount != "",
	}
}

// unsurePixel is how many times larger a camera's pixels may be than the settings say:
// drivers join up to four by four.
const unsurePixel = 4
