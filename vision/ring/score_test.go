package ring

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
	"halocue/vision/frame"
)

// limits are the errors allowed, RMS, as fractions of the diffraction tolerance;
// for Track as it was measured, with a third to spare.
var limits = []struct {
	kind           string
	measure, track float64
}{
	{"clean", 0.03, 0.03},
	{"faint", 0.10, 0.08},
	{"bright", 0.10, 0.05},
	{"edge", 0.12, 0.05},
	{"clutter", 0.06, 0.05},
}

func TestFramesWithKnownTruth(t *testing.T)      { framesWithKnownTruth(t, 1) }
func TestProveFramesWithKnownTruth(t *testing.T) { framesWithKnownTruth(t, every) }

func framesWithKnownTruth(t *testing.T, most int) {
	var all tally
	for _, l := range limits {
		var measured, tracked tally
		for _, s := range first(stars(t, l.kind), most) {
			f := load(t, s.Files[0])
			one(t, s, s.meter().Measure(f), s.offset(), &measured, &all)
			one(t, s, s.meter().Track(f), s.offset(), &tracked)
		}
		t.Logf("%-8s measure rms %.4f worst %.4f, error/sigma %.2f; track rms %.4f worst %.4f, error/sigma %.2f", l.kind,
			measured.rms(), measured.worst, measured.sigmas(), tracked.rms(), tracked.worst, tracked.sigmas())
		if !(measured.rms() <= l.measure) || !(tracked.rms() <= l.track) {
			t.Errorf("%s: over the limits %g and %g", l.kind, l.measure, l.track)
		}
	}
	if s := all.sigmas(); most == every && !(s > 0.7 && s < 1.3) {
		t.Errorf("error over claimed sigma is %.2f RMS; the claims are not true", s)
	}
}

func one(t *testing.T, s star, m Measurement, truth r2.Vec, into ...*tally) {
	t.Helper()
	if !m.Found {
		t.Errorf("%s: not found, %q", s.Files[0], m.Why)
		return
	}
	for _, a := range into {
		a.add(r2.Sub(m.Offset, truth), m.Sigma, s.unit(truth))
	}
	// The ring stands off the star's chief ray by coma, against the offset.
	e := s.Secondary / s.Aperture
	ring := r2.Sub(r2.Vec{X: s.Star[0], Y: s.Star[1]}, r2.Scale(1/(1-e*e), s.offset()))
	if d := math.Hypot(m.Ring.X-ring.X, m.Ring.Y-ring.Y); s.Kind != "pair" && !(d < 0.01*s.Radius) {
		t.Errorf("%s: ring %.2f px off its place", s.Files[0], d)
	}
	if d := m.Ring.Radius / s.Radius; s.Kind != "pair" && math.Abs(d-1) > 0.01 {
		t.Errorf("%s: radius %.3f of the true one", s.Files[0], d)
	}
}

func TestPairsWithKnownTruth(t *testing.T)      { pairsWithKnownTruth(t, 1) }
func TestProvePairsWithKnownTruth(t *testing.T) { pairsWithKnownTruth(t, every) }

func pairsWithKnownTruth(t *testing.T, most int) {
	var a tally
	for _, s := range first(stars(t, "pair"), most) {
		m := s.meter()
		in, out := m.Measure(load(t, s.Files[0])), m.Measure(load(t, s.Files[1]))
		if !in.Found || !out.Found {
			t.Fatalf("%s: %q, %q", s.Files[0], in.Why, out.Why)
		}
		r, q := in.Ring.Radius, out.Ring.Radius
		coma, delta := optics.Pair(in.Offset, out.Offset, r, q)
		truth := r2.Vec{X: s.Coma[0], Y: s.Coma[1]}
		sigma := r2.Vec{X: math.Hypot(q*in.Sigma.X, r*out.Sigma.X) / (r + q), Y: math.Hypot(q*in.Sigma.Y, r*out.Sigma.Y) / (r + q)}
		a.add(r2.Sub(coma, truth), sigma, s.unit(truth))
		if d := math.Hypot(delta.X-s.Silhouette[0], delta.Y-s.Silhouette[1]); d > 0.003 {
			t.Errorf("%s: silhouette %.4f radii off", s.Files[0], d)
		}
	}
	t.Logf("pair rms %.4f worst %.4f, error/sigma %.2f", a.rms(), a.worst, a.sigmas())
	if !(a.rms() <= 0.05) {
		t.Error("over the limit 0.05")
	}
}

// In units of the air's own coma over the root of the number of frames.
func TestProveSeeingWithKnownTruth(t *testing.T) {
	for _, s := range stars(t, "seeing") {
		m, tracker := s.meter(), s.meter()
		var measured, tracked []Measurement
		for _, name := range s.Files {
			f := load(t, name)
			measured, tracked = append(measured, m.Measure(f)), append(tracked, tracker.Track(f))
		}
		for name, list := range map[string][]Measurement{"measure": measured, "track": tracked} {
			c := Combine(list)
			e := r2.Sub(c.Offset, s.offset())
			u := r2.Norm(e) / s.air() / math.Sqrt(2/float64(c.Frames))
			t.Logf("%s: %d of %d frames, error %.2f, error/sigma %.2f", name, c.Frames, len(list), u, r2.Norm(e)/math.Hypot(c.Sigma.X, c.Sigma.Y))
			if !(u <= 2) || name == "measure" && !(u <= 1.5) || c.Frames < len(list) {
				t.Errorf("%s: over the limit", name)
			}
		}
	}
}

func TestNothingToMeasure(t *testing.T) {
	want := map[string][]Why{
		"dark": {Dark}, "day": {TooBright}, "focused": {Focused}, "gradient": {TooBright}, "noise": {Dark},
		"saturated": {TooBright}, "solid-disc": {NoShadow},
	}
	for _, s := range stars(t, "none") {
		f := load(t, s.Files[0])
		for name, look := range map[string]func(*frame.Frame) Measurement{"measure": s.meter().Measure, "track": s.meter().Track} {
			m := look(f)
			if m.Found || len(want[s.What]) == 0 || m.Why != want[s.What][0] {
				t.Errorf("%s (%s): %s found %v, why %q, want %q", s.Files[0], s.What, name, m.Found, m.Why, want[s.What])
			}
		}
	}
}
