package platescale

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
	"halocue/vision"
	"halocue/vision/frame"
	"halocue/vision/ring"
)

// meter measures the ring in a frame, beginning where the last one left it.
type meter interface {
	Track(*frame.Frame) ring.Measurement
}

// gone is how long the star may be out of sight before it has left, s.
const gone = 5

// Watch collects where the star stands until the time is over or it has left. A
// ring is taken by its centre; a star near focus by its light. Nothing of the telescope
// need be known.
func Watch(ctx context.Context, src vision.Source, m meter, t optics.Telescope, seconds float64) ([]Point, Stretch, error) {
	var rings, lights []Point
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
			return nil, Stretch{}, fmt.Errorf("watching the star: %w; check the camera, and begin again", err)
		}
		now := f.T.Seconds()
		if math.IsNaN(first) {
			first, last = now, now
		}
		if now-first > seconds || len(rings)+len(lights) > 0 && now-last > gone {
			break
		}
		seen := m.Track(f)
		if seen.Why == ring.TooBright {
			return nil, Stretch{}, errors.New("danger, the frame is flooded with light; never the Sun: turn the telescope away, cover it, and take a star by night")
		}
		if seen.Found {
			rings, last = append(rings, Point{T: now, At: r2.Vec{X: seen.Ring.X, Y: seen.Ring.Y}}), now
		} else if at, ok := seen.Spot(f); ok {
			lights, last = append(lights, Point{T: now, At: at}), now
		}
	}
	points, isRing := lights, len(rings) >= len(lights)
	if isRing {
		points = rings
	}
	switch {
	case !(t.Aperture > 0 && t.FocalLength > 0):
		return points, unknown(), nil
	case isRing:
		return points, OfRing(t.FocalRatio()), nil
	}
	return points, ofLight(t.FocalRatio(), t.Obstruction()), nil
}
