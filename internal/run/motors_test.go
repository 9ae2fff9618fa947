package run

import (
	"bytes"
	"context"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
	"halocue/internal/platform/drive"
	"halocue/internal/platform/drive/motors"
	"halocue/internal/platform/drive/motors/motorstest"
	"halocue/internal/simulate/telescope"
	"halocue/vision/frame"
)

// rigged is a virtual telescope that goes where the simulators of indi-bin say that
// they are, ten frames a second by the clock on the wall.
type rigged struct {
	*dream
	rig         *motorstest.Rig
	east, north float64
	steps       float64
	tick        *time.Ticker
}

func (r *rigged) Next(ctx context.Context) (*frame.Frame, error) {
	select {
	case <-r.tick.C:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	perArcsec := r.tel.Night().Telescope.FocalLength / 206264.8
	east, north := r.rig.Off()
	r.tel.Push(r2.Scale(perArcsec, r2.Vec{X: east - r.east, Y: -(north - r.north)}))
	steps := r.rig.Steps()
	r.tel.Rack((steps - r.steps) * 0.005)
	r.east, r.north, r.steps = east, north, steps
	return r.dream.Next(ctx)
}

// The whole way with the real server and its simulators: the coach asks, the words
// go out, mount and focuser move, the star and the ring follow, the coach sees it.
// The motors are found while the night runs.
func TestSimulatedMotorsLive(t *testing.T) {
	t.Parallel()
	rig := motorstest.New(t)
	n := telescope.Demo(3)
	n.Telescope = optics.Telescope{Aperture: 300, FocalLength: 1500, Secondary: 75} // 0.11 mm/s at the guiding rate
	n.Star = r2.Vec{X: 0.55, Y: -1.5}                                               // near the frame's edge: the first thing to be done
	d := dreamOf(n)
	src := &rigged{dream: d, rig: rig, steps: rig.Steps(), tick: time.NewTicker(100 * time.Millisecond)}
	defer src.tick.Stop()

	var out bytes.Buffer
	p := parts(t, d, &out)
	p.Source = src
	p.Hands = nil // nothing is left for them to do
	drives := make(chan *drive.Drive)
	p.Drives = drives
	ctx, end := context.WithTimeout(t.Context(), 180*time.Second)
	defer end()
	go func() {
		m, err := motors.OpenMount(ctx, "indi://"+rig.Address)
		if err != nil {
			t.Error(err)
			return
		}
		defer m.Release()
		f, err := motors.OpenFocuser(ctx, "indi://"+rig.Address)
		if err != nil {
			t.Error(err)
			return
		}
		defer f.Release()
		drives <- drive.New(m, f, drive.Limits{})
		<-ctx.Done()
	}()
	p.Transcript = NewTranscript(writerFunc(func(b []byte) (int, error) {
		if bytes.Contains(b, []byte(`"arrived"`)) && bytes.Contains(out.Bytes(), []byte(`"arrived"`)) {
			end() // the second
		}
		return out.Write(b)
	}))
	if _, err := Live(ctx, p); err != nil {
		t.Fatal(err)
	}
	asked, _, did := says(t, out.String())
	for line := range strings.Lines(out.String()) {
		if strings.Contains(line, `"say"`) || strings.Contains(line, `"drive"`) {
			t.Log(strings.TrimSpace(line))
		}
	}
	if asked > 0 || did["arrived"] < 2 || did["stopped"] > 0 {
		t.Errorf("the hands were asked %d times; the motors: %v", asked, did)
	}
	if tr := d.tel.Truth(); tr.Z > 0 {
		t.Errorf("the focuser did not go through: z = %.2f mm", tr.Z)
	}
	if rig.Nudging() {
		t.Error("the mount moves when the night is over")
	}
}

type writerFunc func([]byte) (int, error)

func (f writerFunc) Write(b []byte) (int, error) { return f(b) }
