package platescale

import (
	"fmt"
	"strings"

	"gonum.org/v1/gonum/floats/scalar"
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/config"
	"halocue/internal/measure"
)

// Report is the JSON line of a drift.
type Report struct {
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

// NewReport says what a drift means with the settings: what is not known is left out.
func NewReport(r Result, c config.Config) Report {
	l := Report{
		ArcsecPerPX: r.ArcsecPerPX, Sigma: r.Sigma, West: measure.XY(r.West), WestDeg: r.WestDeg(), WestSigma: r.WestSigma, WestHour: r.WestHour(),
		PXPerS: r2.Norm(r.Velocity), RMS: r.RMS, Used: r.Used, Of: r.Of, Seconds: r.Seconds,
	}
	pixelUM := c.Camera.PixelUM
	with := func(v float64) (*float64, *float64) {
		s := v * r.Sigma / r.ArcsecPerPX
		return &v, &s
	}
	if f := c.Telescope.FocalLengthMM; f > 0 {
		l.PixelUM, l.PixelSigma = with(r.PixelUM(f) * c.Camera.Barlow)
		c.Camera.PixelUM = scalar.Round(*l.PixelUM, 3)
		if c.Check() == nil {
			l.TOML = fmt.Sprintf("pixel_um = %.3f", *l.PixelUM)
		}
	}
	l.lens(r, pixelUM)
	return l
}

// lens adds the focal length that the camera's own pixels make of the scale.
func (l *Report) lens(r Result, pixelUM float64) {
	if pixelUM > 0 {
		f := r.FocalLengthMM(pixelUM)
		s := f * r.Sigma / r.ArcsecPerPX
		l.FocalMM, l.FocalSigma = &f, &s
	}
}

// Words says it in lines.
func (l Report) Words(say measure.Say) string {
	lines := []string{
		say("scale.per-pixel", l.ArcsecPerPX, l.Sigma, l.Used, l.Of, l.Seconds),
		say("scale.west", l.WestHour, l.WestDeg, l.WestSigma),
	}
	if l.FocalMM != nil {
		lines = append(lines, say("scale.focal", *l.FocalMM, *l.FocalSigma))
	}
	if l.PixelUM != nil {
		lines = append(lines, say("scale.pixel", *l.PixelUM, *l.PixelSigma))
	}
	if l.TOML != "" {
		lines = append(lines, say("scale.toml"), l.TOML)
	}
	return strings.Join(lines, "\n")
}

// Into puts the result into settings.
func (l Report) Into(c *config.Config) {
	c.Scale = config.Scale{
		ArcsecPerPX: scalar.Round(l.ArcsecPerPX, 5), ArcsecPerPXSigma: scalar.Round(l.Sigma, 5),
		WestDeg: scalar.Round(l.WestDeg, 2), WestDegSigma: scalar.Round(l.WestSigma, 2),
	}
	if l.TOML != "" {
		c.Camera.PixelUM = scalar.Round(*l.PixelUM, 3)
	}
}
