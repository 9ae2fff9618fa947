package nights

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/coach"
)

// sightEvent is a measure event of guide's transcript, as far as it is a sight.
type sightEvent struct {
	T        float64  `json:"t"`
	Event    string   `json:"event"`
	Width    int      `json:"width"`
	Height   int      `json:"height"`
	Found    bool     `json:"found"`
	Why      string   `json:"why,omitempty"`
	Seen     bool     `json:"seen"`
	StarPx   xy       `json:"star_px"`
	RadiusPx float64  `json:"radius_px"`
	ShadowPx float64  `json:"shadow_px"`
	OffsetPx xy       `json:"offset_px"`
	SigmaPx  xy       `json:"sigma_px"`
	Level    float64  `json:"level"`
	Clipped  float64  `json:"clipped"`
	Flags    []string `json:"flags,omitempty"`
}

type xy struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
}

func (e sightEvent) sight() coach.Sight {
	return coach.Sight{
		T: e.T, Width: e.Width, Height: e.Height, Found: e.Found, Why: e.Why, Seen: e.Seen, Star: r2.Vec(e.StarPx),
		Radius: e.RadiusPx, Shadow: e.ShadowPx, Offset: r2.Vec(e.OffsetPx), Sigma: r2.Vec(e.SigmaPx),
		Level: e.Level, Clipped: e.Clipped, Flags: e.Flags,
	}
}

// Replay shows a recorded night, guide's transcript, to a coach of today, and
// returns what it would have said and when. The star goes its recorded way
// whatever is said, so the comparison is fair up to the first cue that differs.
func Replay(transcript io.Reader, s coach.Settings, words Speech) ([]Said, error) {
	c, err := coach.New(s)
	if err != nil {
		return nil, fmt.Errorf("replaying a night: %w", err)
	}
	var said []Said
	var v voice
	lines := bufio.NewScanner(transcript)
	lines.Buffer(nil, 1<<20)
	for n := 1; lines.Scan(); n++ {
		var e sightEvent
		if err := json.Unmarshal(lines.Bytes(), &e); err != nil {
			return said, fmt.Errorf("line %d of the transcript: %w; it must be JSON lines as guide writes them", n, err)
		}
		if e.Event != "measure" {
			continue
		}
		v.listen(c, e.T)
		for _, cue := range c.See(e.sight()).Cues {
			one, err := v.speak(c, cue, e.T, &words)
			if err != nil {
				return said, err
			}
			said = append(said, one)
		}
	}
	if err := lines.Err(); err != nil {
		return said, fmt.Errorf("reading the transcript: %w", err)
	}
	return said, nil
}
