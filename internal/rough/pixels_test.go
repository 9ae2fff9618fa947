package rough_test

import (
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/coach"
	"halocue/internal/frame"
	"halocue/internal/rough"
	scene "halocue/internal/virtual/peephole"
	look "halocue/vision/peephole"
)

// seeing makes a day see by drawn frames. Frames in which nothing has moved are
// drawn and measured once a second only.
func seeing(d *day) {
	s := d.tel.Scene()
	meter := look.NewMeter(look.Config{Aperture: s.Aperture})
	var f frame.Frame
	var last scene.Truth
	var kept coach.Sight
	next := 0.0
	d.see = func(out *coach.Sight) {
		if tr := d.tel.Truth(); tr != last || out.T >= next {
			last, next = tr, out.T+1
			d.tel.Render(&f)
			v := meter.Measure(&f)
			kept = coach.Sight{Width: f.Width, Height: f.Height, Found: v.Found, Why: string(v.Why)}
			if v.Found {
				kept.Down = &coach.Down{
					Primary: v.Primary.Centre, PrimaryRadius: v.Primary.Radius, Secondary: v.Secondary.Centre, SecondaryRadius: v.Secondary.Radius,
					Whole: v.Whole, OffSigma: v.Secondary.Sigma, Marked: v.Marked, Mark: v.Mark, Reflected: v.Reflected, Spot: v.Spot, SpotSigma: v.Sigma,
					Around: v.Around[:],
				}
			}
		}
		t := out.T
		*out = kept
		out.T = t
	}
}

// The same with drawn frames: what is measured is good enough, and what is claimed
// is so.
func TestDaysByPixels(t *testing.T) {
	if testing.Short() {
		t.Skip("drawn frames take minutes under the race detector; the full run has them")
	}
	for _, seed := range []uint64{3} {
		s := small(scene.Demo(seed))
		d := newDay(t, s)
		seeing(d)
		d.run(500)
		claim := rough.Goal(settings(s).Telescope)/2 + r2.Norm(s.Mark.At)/2
		if off := r2.Norm(d.tel.Truth().Axis); d.result != rough.Rough || off > claim {
			t.Errorf("scene %d: result %q, the axis is %.2f mm off, %.2f are claimed\n%s", seed, d.result, off, claim, d.script())
		}
	}
}

// small makes the camera's frames smaller, for speed.
func small(s scene.Scene) scene.Scene {
	const by = 0.64
	s.Camera.Width, s.Camera.Height = 512, 384
	s.Camera.FocalPX *= by
	return s
}

// BenchmarkDays runs another scene in each round, with drawn frames, and prints how
// it ended: go test ./internal/rough -run '^$' -bench Days -benchtime 20x -v
func BenchmarkDays(b *testing.B) {
	var left, ratio []float64
	done, seed := 0, uint64(0)
	for b.Loop() {
		seed++
		s := small(scene.Demo(seed))
		d := newDay(b, s)
		seeing(d)
		start := d.tel.Truth()
		d.run(600)
		tr, tol := d.tel.Truth(), settings(s).Telescope.Tolerance()
		turns := 0
		for _, c := range d.said {
			if c.Action == coach.Turn {
				turns++
			}
		}
		if d.result == rough.Rough {
			done++
			left = append(left, r2.Norm(tr.Axis))
			ratio = append(ratio, r2.Norm(tr.Axis)/tol)
		}
		margin := func(tr scene.Truth) float64 {
			return 100 * r2.Norm(r2.Sub(tr.Primary, tr.Secondary)) / (tr.Rim - tr.Radius)
		}
		b.Logf("| %d | %.0f mm f/%.1f | %s | %.0f | %d | %.0f to %.0f | %.1f to %.2f | %.1f | %.2f |", seed, s.Aperture, s.FocalLength/s.Aperture, d.result, d.t, turns,
			margin(start), margin(tr), r2.Norm(start.Axis), r2.Norm(tr.Axis), r2.Norm(tr.Peephole), r2.Norm(tr.Axis)/tol)
	}
	if len(left) == 0 {
		return
	}
	slices.Sort(left)
	slices.Sort(ratio)
	b.ReportMetric(float64(done)/float64(seed), "done")
	b.ReportMetric(left[len(left)/2], "mm-median")
	b.ReportMetric(left[len(left)-1], "mm-worst")
	b.ReportMetric(ratio[len(ratio)-1], "tolerances-worst")
	b.ReportMetric(0, "ns/op")
}
