package spikes

// place is a point of the frame, px.
type place struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
}

// Report is the JSON line of a star's spikes. Angles are degrees from the frame's
// right, clockwise, 0 to 180, since each is a line through the star.
type Report struct {
	Found  bool        `json:"found"`
	Why    Why         `json:"why"`
	Frames int         `json:"frames"` // with a star in focus
	Star   *place      `json:"star,omitempty"`
	Spikes int         `json:"spikes"`
	Lines  []spikeLine `json:"lines"`
	Words  []string    `json:"words"`
}

type spikeLine struct {
	Angle      float64  `json:"angle_deg"`
	Sigma      float64  `json:"sigma_deg"`
	Vane       float64  `json:"vane_deg"` // of the vanes that make it
	Split      *float64 `json:"split_deg,omitempty"`
	SplitSigma *float64 `json:"sigma_split_deg,omitempty"`
	Limit      *float64 `json:"split_below_deg,omitempty"` // where it is one line
	Light      float64  `json:"light"`                     // of the brightest, 0 to 1
}

// NewReport says what the spikes in so many frames mean; words are its Words, in English.
func NewReport(r Result, frames int, words []string) Report {
	l := Report{Found: r.Found, Why: r.Why, Frames: frames, Spikes: 2 * len(r.Spikes), Lines: []spikeLine{}, Words: words}
	if frames > 0 {
		l.Star = &place{r.Star.X, r.Star.Y}
	}
	at := func(radians float64) *float64 { d := degrees(radians); return &d }
	for _, k := range r.Spikes {
		n := spikeLine{Angle: degrees(k.Angle), Sigma: degrees(k.Sigma), Vane: degrees(k.vane()), Light: k.Light}
		if k.Double {
			n.Split, n.SplitSigma = at(k.Split), at(k.SplitSigma)
		} else {
			n.Limit = at(k.Limit)
		}
		l.Lines = append(l.Lines, n)
	}
	return l
}
