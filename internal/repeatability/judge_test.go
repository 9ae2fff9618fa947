package repeatability

import (
	"context"
	"io"
	"math"
	"slices"
	"testing"
	"time"

	"halocue/internal/optics"
	"halocue/vision/frame"
	"halocue/vision/ring"
)

// turning sees a ring on a circle of 12 px about (640, 480), an eighth of a turn farther with
// each frame's number.
type turning struct{}

func (turning) Track(f *frame.Frame) ring.Measurement {
	s, c := math.Sincos(float64(f.Seq) * math.Pi / 4)
	return ring.Measurement{Found: true, Ring: ring.Circle{X: 640 + 12*c, Y: 480 + 12*s, Radius: 100}}
}

// What is said of eight looks of a camera that is turned round: its centre is the circle's,
// and is offered for the settings; of a tool's spot on a wall 1 m away the circle is in mm, and
// its tilt is 6 mm over 1 m, 0.006 rad, 20.63 arc minutes.
func TestJudgeOfWhatIsTurned(t *testing.T) {
	var looks []Seating
	for i := range 8 {
		looks = append(looks, Seating{Frames: []*frame.Frame{{Width: 1280, Height: 960, Seq: uint64(i)}}})
	}
	job := Job{Meter: turning{}, Telescope: optics.Telescope{Aperture: 200, FocalLength: 1000, Secondary: 50}, PixelMM: 0.00375, Turned: true}
	judge := func(g Job) (r Result, said []string) {
		r, err := g.Judge(context.Background(), looks, func(LookLine) error { return nil })
		if err != nil || r.Circle == nil {
			t.Fatalf("%+v, %v", r, err)
		}
		r.Words(func(key string, _ ...any) string { said = append(said, key); return key })
		return r, said
	}
	r, said := judge(job)
	if math.Hypot(r.Circle.X-640, r.Circle.Y-480) > 1e-6 || r.TOML != "centre_px = [640.0, 480.0]" || r.Verdict != Trusted || r.Tilt != 0 {
		t.Errorf("a camera: %+v", r)
	}
	if want := job.Telescope.Tolerance() / job.PixelMM; math.Abs(r.Tolerance/want-1) > 1e-9 {
		t.Errorf("the tolerance is %g px, want %g", r.Tolerance, want)
	}
	if !slices.Contains(said, "wobble.within-of") || slices.Contains(said, "wobble.within") {
		t.Errorf("of a camera it says %v", said)
	}
	job.Spot, job.WallMM, job.DistanceMM = true, 0.5, 1000
	r, said = judge(job)
	if math.Abs(r.RadiusMM-6) > 1e-6 || math.Abs(r.Tilt-20.63) > 0.01 || r.TOML != "" || r.Verdict != "" {
		t.Errorf("a spot: %+v", r)
	}
	if slices.Contains(said, "wobble.within-of") || !slices.Contains(said, "wobble.within") || !slices.Contains(said, "wobble.circle") || !slices.Contains(said, "wobble.tilt") {
		t.Errorf("of a spot it says %v", said)
	}
}

// ticking is a source of a frame a second, without an end.
type ticking struct{ frame.Frame }

func (c *ticking) Next(context.Context) (*frame.Frame, error) {
	c.T += time.Second
	c.Seq++
	if c.Seq > 1000 {
		return nil, io.EOF
	}
	return &c.Frame, nil
}

func (c *ticking) Close() error { return nil }

// A look begins when its pause is over and ends when its time is: of a frame a second, 8 s of
// pause and 2 s of look, the frames at 8, 9 and 10 s.
func TestLookEndsInTime(t *testing.T) {
	src := &ticking{}
	var s Seating
	if ended, err := s.fill(context.Background(), src, 8, 2); ended || err != nil {
		t.Fatal(ended, err)
	}
	if len(s.Frames) != 3 || s.Frames[0].Seq != 9 || src.Seq != 11 {
		t.Errorf("%d frames from number %d on, %d taken", len(s.Frames), s.Frames[0].Seq, src.Seq)
	}
}

// Where more than three seatings must be averaged, their number is said.
func TestHowManyToAverageIsSaid(t *testing.T) {
	for needed, want := range map[int]bool{0: false, 3: false, 25: true} {
		var said []string
		Result{Needed: needed}.Words(func(key string, _ ...any) string { said = append(said, key); return key })
		if slices.Contains(said, "wobble.averaging") != want {
			t.Errorf("%d needed: it says %v", needed, said)
		}
	}
}
