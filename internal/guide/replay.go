package guide

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/coach"
)

// longestLine bounds a line of a transcript, bytes.
const longestLine = 1 << 20

// Replay runs the sights of a recorded transcript past the coach of p: what would
// it have said? The hands in the recording did what its own coach said, so the two
// part ways once their cues differ. Source and Meter are not used.
func Replay(ctx context.Context, p Parts, transcript io.Reader) (Outcome, error) {
	n := begin(p)
	lines := bufio.NewScanner(transcript)
	lines.Buffer(nil, longestLine)
	last := 0.0
	for number := 1; lines.Scan() && !n.finished && n.failure == nil && ctx.Err() == nil; number++ {
		var e measureEvent
		if err := json.Unmarshal(lines.Bytes(), &e); err != nil {
			return n.outcome, fmt.Errorf("reading line %d of the transcript: %w; give a file that guide --transcript wrote", number, err)
		}
		if e.Event != "measure" || e.T < last {
			continue
		}
		n.advance(e.T - last)
		last = e.T
		n.sight(e.T, e.sight())
		n.speak(ctx, e.T)
		if n.outcome.Result != "" {
			break
		}
	}
	if err := lines.Err(); err != nil {
		return n.outcome, fmt.Errorf("reading the transcript: %w; give a file that guide --transcript wrote", err)
	}
	if n.outcome.Frames == 0 {
		return n.outcome, fmt.Errorf("there is no measurement in the transcript; give a file that guide --transcript wrote")
	}
	return n.end(ctx, last, "", 0.1), n.err(nil)
}

// sight is what the coach saw.
func (e measureEvent) sight() coach.Sight {
	v := func(p xy) r2.Vec { return r2.Vec{X: p.X, Y: p.Y} }
	return coach.Sight{
		T: e.T, Width: e.Width, Height: e.Height, Found: e.Found, Why: e.Why, Seen: e.Seen,
		Star: v(e.StarPx), Radius: e.RadiusPx, Shadow: e.ShadowPx, Offset: v(e.OffsetPx), Sigma: v(e.SigmaPx),
		Level: e.Level, Clipped: e.Clipped, Flags: e.Flags,
	}
}
