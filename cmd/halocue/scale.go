package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"time"

	"github.com/spf13/cobra"
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/config"
	"halocue/internal/drift"
	"halocue/internal/frame"
	"halocue/internal/measure"
	"halocue/internal/sky"
	"halocue/internal/spot"
	"halocue/internal/virtual"
	"halocue/vision"
	"halocue/vision/ring"
)

// scaleFlags are the flags of scale that are no settings.
type scaleFlags struct {
	json, write, known       bool // known: the declination was given
	clock, star              string
	fps, seconds, decDegrees float64
}

func newScaleCommand(a *app) *cobra.Command {
	var g scaleFlags
	cmd := &cobra.Command{
		Use:   "scale",
		Short: "Get the plate scale and the direction of west from a drifting star",
		Long: `Watches a star drift through the frame for a minute with the mount's tracking
off and nobody touching the telescope. Its speed gives the arc seconds in a pixel,
so the size of a pixel need not be known, not even behind an eyepiece; its way
points west. It offers to write the result into the telescope's settings, and
changes nothing else in them. Put a star near the equator at the frame's edge, so that it drifts
across. Never point the telescope at the Sun.`,
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			g.known = cmd.Flags().Changed("declination")
			c, err := a.settings(cmd)
			if err != nil {
				return err
			}
			return a.scale(cmd.Context(), c, g)
		},
	}
	settingFlags(cmd, "telescope", "camera", "sound", "voice")
	f := cmd.Flags()
	f.BoolVar(&g.json, "json", false, "print a JSON line")
	f.BoolVar(&g.write, "write", false, "write the result into the settings without asking")
	f.Float64Var(&g.decDegrees, "declination", 0, "the star's declination, `DEGREES`, north positive, of this year")
	f.StringVar(&g.star, "star", "", "the star's `NAME` instead of its declination")
	f.StringVar(&g.clock, "clock", "wall", "`CLOCK`: wall, or frames for time by the frame count")
	f.Float64Var(&g.fps, "fps", 10, "`N` frames a second, of files and of the frame clock")
	f.Float64Var(&g.seconds, "seconds", 60, "`SECONDS` to watch")
	return cmd
}

// declination returns the star's declination, degrees; of a named star its size only,
// which is all that counts.
func (g scaleFlags) declination() (float64, error) {
	switch {
	case g.known && g.star != "":
		return 0, usageError{errors.New("give --declination or --star, not both")}
	case g.known && !(math.Abs(g.decDegrees) <= 90):
		return 0, usageError{fmt.Errorf("--declination %g: give -90 to 90 degrees", g.decDegrees)}
	case g.known:
		return g.decDegrees, nil
	case g.star == "":
		return 0, usageError{errors.New("the star is not known; give its --declination in degrees, or --star NAME")}
	}
	s, ok := sky.Named(g.star)
	if !ok {
		return 0, usageError{fmt.Errorf("--star %q is not among the bright stars; give its --declination in degrees", g.star)}
	}
	_, rate := sky.Site{}.Look(s, time.Now())
	return math.Acos(rate/drift.SiderealRate) * 180 / math.Pi, nil
}

func (a *app) scale(ctx context.Context, c config.Config, g scaleFlags) error {
	dec, err := g.declination()
	if err != nil {
		return err
	}
	if !(g.seconds >= 5 && g.seconds <= 3600) {
		return usageError{fmt.Errorf("--seconds %g: give 5 to 3600", g.seconds)}
	}
	still := func(n virtual.Night) virtual.Night { // the drive is off, the star begins at the side
		speed := drift.Rate(dec) / 206264.8 * n.Telescope.FocalLength
		n.Mount.Drift = r2.Rotate(r2.Vec{X: speed}, 0.3, r2.Vec{})
		n.Star = r2.Scale(-g.seconds/2, n.Mount.Drift)
		return n
	}
	t, err := a.openTool(ctx, c, g.clock, g.fps, still)
	if err != nil {
		return err
	}
	defer t.close()
	if err := t.c.Check(); err != nil {
		return err
	}
	if err := t.say(ctx, fmt.Sprintf("Tracking off. Hands off the telescope. I watch the star for %.0f seconds.", g.seconds)); err != nil {
		return err
	}
	points, stretch, err := watchDrift(ctx, t.Source, t.c, g.seconds)
	if err != nil {
		return err
	}
	r, err := drift.Measure(points, dec, stretch)
	if err != nil {
		return errors.Join(fmt.Errorf("measuring the drift: %w", err), t.say(ctx, "It did not work out: "+inner(err)+"."))
	}
	l := newScaleLine(r, t.c)
	l.lens(r, t.c.Camera.PixelUM)
	if g.json {
		err = json.NewEncoder(a.stdout).Encode(l)
	} else {
		_, err = fmt.Fprintln(a.stdout, l.words())
	}
	err = errors.Join(err, t.say(ctx, fmt.Sprintf("Done. %.2f arc seconds in a pixel. West lies toward %d o'clock on the picture.", r.ArcsecPerPX, r.WestHour())))
	if err != nil {
		return err
	}
	return a.keep(ctx, c, keeping{g.write, !g.json}, func(line string) error { return t.say(ctx, line) }, l.into)
}

// into puts the result into settings.
func (l scaleLine) into(c *config.Config) {
	c.Scale = config.Scale{
		ArcsecPerPX: rounded(l.ArcsecPerPX, 5), ArcsecPerPXSigma: rounded(l.Sigma, 5),
		WestDeg: rounded(l.WestDeg, 2), WestDegSigma: rounded(l.WestSigma, 2),
	}
	if l.TOML != "" {
		c.Camera.PixelUM = rounded(*l.PixelUM, 3)
	}
}

// gone is how long the star may be out of sight before it has left, s.
const gone = 5

// watchDrift collects where the star stands until the time is over or it has left. A
// ring is taken by its centre; a star near focus by its light.
func watchDrift(ctx context.Context, src vision.Source, c config.Config, seconds float64) ([]drift.Point, drift.Stretch, error) {
	known := c.Telescope.ApertureMM > 0 && c.Telescope.FocalLengthMM > 0
	if !known { // any usual telescope finds a ring
		c.Telescope.ApertureMM, c.Telescope.FocalLengthMM = 150, 750
	}
	meter := newMeter(c)
	var rings, lights []drift.Point
	first, last := math.NaN(), 0.0
	for {
		f, err := src.Next(ctx)
		if errors.Is(err, vision.ErrBadFrame) {
			continue
		}
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, drift.Stretch{}, fmt.Errorf("watching the star: %w; check the camera, and begin again", err)
		}
		t := f.T.Seconds()
		if math.IsNaN(first) {
			first, last = t, t
		}
		if t-first > seconds || len(rings)+len(lights) > 0 && t-last > gone {
			break
		}
		m := meter.Track(f)
		if m.Why == ring.TooBright {
			return nil, drift.Stretch{}, errors.New("danger, the frame is flooded with light; never the Sun: turn the telescope away, cover it, and take a star by night")
		}
		if m.Found {
			rings, last = append(rings, drift.Point{T: t, At: r2.Vec{X: m.Ring.X, Y: m.Ring.Y}}), t
		} else if at, ok := light(f, m); ok {
			lights, last = append(lights, drift.Point{T: t, At: at}), t
		}
	}
	points, stretch := lights, drift.OfLight(c.Optics().FocalRatio(), c.Optics().Obstruction())
	if len(rings) >= len(lights) {
		points, stretch = rings, drift.OfRing(c.Optics().FocalRatio())
	}
	if !known {
		stretch = drift.Unknown()
	}
	return points, stretch, nil
}

// scaleLine is the JSON line of a drift.
type scaleLine struct {
	ArcsecPerPX float64    `json:"arcsec_per_px"`
	Sigma       float64    `json:"sigma_arcsec_per_px"`
	West        measure.XY `json:"west"`
	WestDeg     float64    `json:"west_deg"` // from the frame's right, clockwise
	WestSigma   float64    `json:"west_sigma_deg"`
	WestHour    int        `json:"west_hour"`
	PXPerS      float64    `json:"drift_px_per_s"`
	RMS         float64    `json:"scatter_px"`
	Used        int        `json:"frames_used"`
	Of          int        `json:"frames_seen"`
	Seconds     float64    `json:"seconds"`
	PixelUM     *float64   `json:"pixel_um,omitempty"`
	PixelSigma  *float64   `json:"sigma_pixel_um,omitempty"`
	FocalMM     *float64   `json:"effective_focal_length_mm,omitempty"`
	FocalSigma  *float64   `json:"sigma_effective_focal_length_mm,omitempty"`
	TOML        string     `json:"toml,omitempty"`
}

func newScaleLine(r drift.Result, c config.Config) scaleLine {
	l := scaleLine{
		ArcsecPerPX: r.ArcsecPerPX, Sigma: r.Sigma, West: measure.XY(r.West), WestDeg: r.WestDeg(), WestSigma: r.WestSigma, WestHour: r.WestHour(),
		PXPerS: r2.Norm(r.Velocity), RMS: r.RMS, Used: r.Used, Of: r.Of, Seconds: r.Seconds,
	}
	with := func(v float64) (*float64, *float64) {
		s := v * r.Sigma / r.ArcsecPerPX
		return &v, &s
	}
	if f := c.Telescope.FocalLengthMM; f > 0 {
		l.PixelUM, l.PixelSigma = with(r.PixelUM(f) * c.Camera.Barlow)
		c.Camera.PixelUM = rounded(*l.PixelUM, 3)
		if c.Check() == nil {
			l.TOML = fmt.Sprintf("pixel_um = %.3f", *l.PixelUM)
		}
	}
	return l
}

// lens adds the focal length that the camera's own pixels make of the scale.
func (l *scaleLine) lens(r drift.Result, pixelUM float64) {
	if pixelUM > 0 {
		f := r.FocalLengthMM(pixelUM)
		s := f * r.Sigma / r.ArcsecPerPX
		l.FocalMM, l.FocalSigma = &f, &s
	}
}

func (l scaleLine) words() string {
	s := fmt.Sprintf("%.4f arc seconds in a pixel, give or take %.4f (1 sigma, %d of %d frames, %.0f seconds).\nWest lies toward %d o'clock on the frame: %.1f degrees clockwise from its right, give or take %.1f.",
		l.ArcsecPerPX, l.Sigma, l.Used, l.Of, l.Seconds, l.WestHour, l.WestDeg, l.WestSigma)
	if l.FocalMM != nil {
		s += fmt.Sprintf("\nThe camera works at a focal length of %.1f mm, give or take %.1f, if its pixels are what the settings say.", *l.FocalMM, *l.FocalSigma)
	}
	if l.PixelUM != nil {
		s += fmt.Sprintf("\nA pixel is %.3f micrometres, give or take %.3f.", *l.PixelUM, *l.PixelSigma)
	}
	if l.TOML != "" {
		s += "\nUnder [camera] in the settings that is:\n" + l.TOML
	}
	return s
}

// light returns where a spot's light is, px, that is no ring.
func light(f *frame.Frame, m ring.Measurement) (r2.Vec, bool) {
	if !m.Seen || m.Why == ring.CutOff {
		return r2.Vec{}, false
	}
	const half = 24 // px: a star near focus, with its seeing
	at, _, ok := spot.Refine(f, m.Star, half)
	return at, ok
}
