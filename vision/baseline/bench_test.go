package baseline

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

type method func(*scene) (r2.Vec, bool)

// rms is the error of a method over the scenes, px; where it finds nothing the
// error is the offset itself: what no measurement leaves.
func rms(list []scene, m method) float64 {
	sum := 0.0
	for i := range list {
		got, ok := m(&list[i])
		if !ok {
			got = r2.Vec{}
		}
		sum += r2.Norm2(r2.Sub(got, list[i].offset))
	}
	return math.Sqrt(sum / float64(len(list)))
}

// The careful look is at least twenty times as accurate as either baseline, and
// the quick one, which must also be fast, at least fifteen times.
func TestMoreAccurateThanGeneralPurposeVision(t *testing.T)      { moreAccurate(t, clean(t)[:2]) }
func TestProveMoreAccurateThanGeneralPurposeVision(t *testing.T) { moreAccurate(t, clean(t)) }

func moreAccurate(t *testing.T, list []scene) {
	ours := rms(list, track)
	best := rms(list, func(s *scene) (r2.Vec, bool) {
		m := s.meter.Measure(s.frame)
		return m.Offset, m.Found
	})
	for name, m := range map[string]method{"Hough": hough, "ellipses": ellipses} {
		theirs := rms(list, m)
		t.Logf("%s %.3f px, %.1f of Track's %.4f, %.0f of Measure's %.4f", name, theirs, theirs/ours, ours, theirs/best, best)
		if !(theirs > 15*ours) || !(theirs > 20*best) {
			t.Errorf("%s is off by %.3f px, Track by %.3f, Measure by %.3f", name, theirs, ours, best)
		}
	}
}

// BenchmarkBaselines reports, for each method, its error and how its time and
// error stand to those of Track on the same 640x480 frames.
func BenchmarkBaselines(b *testing.B) {
	list := clean(b)
	error0 := rms(list, track)
	var time0 float64
	for _, c := range []struct {
		name string
		run  method
	}{{"track", track}, {"hough", hough}, {"ellipses", ellipses}} {
		e := rms(list, c.run)
		b.Run(c.name, func(b *testing.B) {
			// One scene after another, as a camera delivers one ring frame by frame.
			each := b.N/len(list) + 1
			b.ResetTimer()
			for i := range list {
				for range each {
					c.run(&list[i])
				}
			}
			took := float64(b.Elapsed().Nanoseconds()) / float64(each*len(list))
			if c.name == "track" {
				time0 = took
			}
			b.ReportMetric(took, "ns/frame")
			b.ReportMetric(e, "px-error")
			b.ReportMetric(took/time0, "time/track")
			b.ReportMetric(e/error0, "error/track")
		})
	}
}
