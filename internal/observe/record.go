package observe

import "gonum.org/v1/gonum/spatial/r2"

// XY is a vector as a transcript writes it.
type XY struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
}

// Record is a Sight by night as a transcript writes it, but for the time: enough to run
// the coach again.
type Record struct {
	Width    int      `json:"width"`
	Height   int      `json:"height"`
	Found    bool     `json:"found"`
	Why      string   `json:"why,omitempty"`
	Seen     bool     `json:"seen"`
	StarPx   XY       `json:"star_px"`
	RadiusPx float64  `json:"radius_px"`
	ShadowPx float64  `json:"shadow_px"`
	OffsetPx XY       `json:"offset_px"`
	SigmaPx  XY       `json:"sigma_px"`
	Level    float64  `json:"level"`
	Clipped  float64  `json:"clipped"`
	Flags    []string `json:"flags,omitempty"`
	Facts    *Facts   `json:"facts,omitempty"`
}

// Record is what a transcript keeps of the sight.
func (s Sight) Record() Record {
	return Record{
		Width: s.Width, Height: s.Height, Found: s.Found, Why: s.Why, Seen: s.Seen,
		StarPx: XY(s.Star), RadiusPx: s.Radius, ShadowPx: s.Shadow, OffsetPx: XY(s.Offset), SigmaPx: XY(s.Sigma),
		Level: s.Level, Clipped: s.Clipped, Flags: s.Flags, Facts: s.Facts,
	}
}

// Sight is what the coach saw at time t, s.
func (r Record) Sight(t float64) Sight {
	return Sight{
		T: t, Width: r.Width, Height: r.Height, Found: r.Found, Why: r.Why, Seen: r.Seen,
		Star: r2.Vec(r.StarPx), Radius: r.RadiusPx, Shadow: r.ShadowPx, Offset: r2.Vec(r.OffsetPx), Sigma: r2.Vec(r.SigmaPx),
		Level: r.Level, Clipped: r.Clipped, Flags: r.Flags, Facts: r.Facts,
	}
}
