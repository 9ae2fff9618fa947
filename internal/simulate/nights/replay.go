package nights

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"

	"halocue/internal/coach/night"
	"halocue/internal/observe"
)

// sightEvent is a measure event of a night's transcript, as far as it is a sight.
type sightEvent struct {
	T     float64 `json:"t"`
	Event string  `json:"event"`
	observe.Record
}

// Replay shows a recorded night, the transcript of collimate, to a coach of today, and
// returns what it would have said and when. The star goes its recorded way
// whatever is said, so the comparison is fair up to the first cue that differs.
func Replay(transcript io.Reader, s night.Settings, words Speech) ([]Said, error) {
	c, err := night.New(s)
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
			return said, fmt.Errorf("line %d of the transcript: %w; it must be JSON lines as collimate writes them", n, err)
		}
		if e.Event != "measure" {
			continue
		}
		v.listen(c, e.T)
		for _, cue := range c.See(e.Sight(e.T)).Cues {
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
