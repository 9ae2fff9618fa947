package byear

import (
	"context"
	"encoding/binary"
	"io"
	"math"
	"os"
	"slices"
	"sort"
	"sync/atomic"
	"testing"
	"time"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio"
	"halocue/audio/device"
	"halocue/audio/device/devicetest"
	"halocue/internal/cue"
	"halocue/internal/run"
	"halocue/internal/simulate/telescope"
	"halocue/vision"
	"halocue/vision/frame"
	"halocue/vision/ring"
)

// room is a sound server with a null sink, and what is heard in it.
func room(b *testing.B) io.Reader {
	b.Helper()
	dir, err := os.MkdirTemp("", "ear")
	if err != nil {
		b.Fatal(err)
	}
	server, err := devicetest.Start(dir)
	if err != nil {
		b.Fatal(err)
	}
	heard, err := server.Listen()
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		heard.Close()
		server.Kill()
		os.RemoveAll(dir)
	})
	return heard
}

// pixels is a night's program with its real eyes, playing through PortAudio.
func pixels(b *testing.B, n telescope.Night, src vision.Source) (run.Parts, *device.Card) {
	b.Helper()
	p := newParts(b, n, "en")
	p.Source = vision.Newest(src)
	p.Meter = ring.NewMeter(ring.Config{Telescope: n.Telescope, PixelMM: n.Camera.Pixel})
	card, err := device.Open(device.Config{Mixer: p.Mixer})
	if err != nil {
		b.Fatal(err)
	}
	p.Sink = card
	return p, card
}

// BenchmarkNightByEar is one night as it is: pixels, PortAudio, the wall clock, and a
// person who hears what the sound server plays. It fails where the mirror is not true.
//
//	go test -run XXX -bench NightByEar -benchtime 1x -v ./internal/run/byear
func BenchmarkNightByEar(b *testing.B) {
	for b.Loop() {
		heard := room(b)
		src := telescope.NewSource(telescope.Demo(1), telescope.SourceOptions{FPS: fps, Wall: true, Closed: vision.ErrClosed})
		n := src.Night()
		parts, card := pixels(b, n, src)
		begun := time.Now()
		p := newPerson(b, n.Cell.Knobs, func(in cue.Instruction) {
			// The ear's clock is not the telescope's: words are understood half a second
			// after their end.
			in.End = time.Since(begun).Seconds() - 0.5
			in.Begin = in.End - 1
			src.Hear(in)
		})
		parts.Commands, parts.Echo = p.button, p
		ended := make(chan error, 1)
		go func() { ended <- follow(heard, p.listen) }()
		ctx, cancel := context.WithTimeout(context.Background(), limit*time.Second)
		out, err := run.Live(ctx, parts)
		cancel()
		if err != nil {
			b.Fatal(err)
		}
		off := r2.Norm(src.Truth().Axis) / n.Telescope.Tolerance()
		parts.Source.Close()
		card.Close()
		b.ReportMetric(out.Time, "night-s")
		b.ReportMetric(float64(card.UnderRuns()), "under-runs")
		select {
		case err := <-ended:
			b.Fatalf("the ear fell out: %v", err)
		default:
		}
		p.judge(b, out, off)
	}
}

// follow hands on what is heard, 50 ms at a time, until it ends.
func follow(heard io.Reader, each func([]float64) error) error {
	raw, mono := make([]byte, 4*audio.Rate/20), make([]float64, audio.Rate/20)
	for {
		if _, err := io.ReadFull(heard, raw); err != nil {
			return err
		}
		for i := range mono {
			mono[i] = float64(int16(binary.LittleEndian.Uint16(raw[4*i:]))) / 32768
		}
		if err := each(mono); err != nil {
			return err
		}
	}
}

// blinking is a camera before which a hand lets the star through now and then, so
// that the tone sets in with a frame whose arrival is known.
type blinking struct {
	star    [lit]*frame.Frame
	dark    *frame.Frame
	count   int
	arrived atomic.Int64 // when the last frame came, Unix ns
}

// blinks is the period in frames, and lit how many of them show the star.
const blinks, lit = 12, 7

func (s *blinking) Next(ctx context.Context) (*frame.Frame, error) {
	select {
	case <-time.After(time.Second / fps):
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	phase := s.count % blinks
	s.count++
	s.arrived.Store(time.Now().UnixNano())
	if phase >= lit {
		return s.dark, nil
	}
	return s.star[phase], nil
}

func (s *blinking) Close() error { return nil }

// mute is a voice that takes its time and is not heard.
type mute struct{}

func (mute) Clip(context.Context, string) (audio.Clip, error) {
	return audio.FromPCM(make([]int16, audio.Rate/2)), nil
}

// From the arrival of a frame to the changed sample: in PortAudio's hands (wanted:
// 25 ms at the 99th percentile), and in the recorded monitor of the sink (wanted:
// 100 ms). In between lie the measurement of the ring, the coach and the mixer. Twice:
// for a star that is followed, and (found-) for one that has just come back, which
// takes a search of the whole frame.
//
//	go test -run XXX -bench FrameToEar -benchtime 100x ./internal/run/byear
func BenchmarkFrameToEar(b *testing.B) {
	e := newEar(room(b))
	n := telescope.Demo(1)
	sky := telescope.NewSource(n, telescope.SourceOptions{FPS: fps})
	src := &blinking{}
	for i := range src.star { // each frame of its own moves the tone
		f, err := sky.Next(context.Background())
		if err != nil {
			b.Fatal(err)
		}
		copied := *f
		copied.Pix = slices.Clone(f.Pix)
		src.star[i] = &copied
	}
	dark := *src.star[0]
	dark.Pix = make([]float32, len(dark.Pix))
	src.dark = &dark
	parts, card := pixels(b, n, src)
	parts.Speech = mute{}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() {
		_, err := run.Live(ctx, parts)
		ended <- err
	}()

	wait := func(ok func() bool) {
		for began := time.Now(); !ok(); time.Sleep(100 * time.Microsecond) {
			if time.Since(began) > 20*time.Second {
				b.Fatal("nothing is heard")
			}
		}
	}
	times := map[string][]float64{}
	// follow notes when a changed tone is decided, handed on and heard, and returns
	// the mixer's time of its first sample.
	follow := func(name string, changed, heard func(at float64) bool) (at float64) {
		wait(func() bool { return changed(0) })
		since := time.Unix(0, src.arrived.Load()) // of the frame that changed it
		note := func(what string) {
			times[name+what] = append(times[name+what], float64(time.Since(since).Microseconds())/1000)
		}
		note("decided")
		at = parts.Mixer.Time()
		wait(func() bool { return parts.Mixer.Time() > at })
		note("handed")
		wait(func() bool { return heard(at) })
		note("heard")
		return at
	}
	off := func() bool { return parts.Mixer.Tone().State == audio.Off }
	for b.Loop() {
		wait(func() bool { return off() && !e.loud() })
		began := follow("found-", func(float64) bool { return !off() }, func(float64) bool { return e.loud() })
		lag := e.now() - began // of the ear behind the mixer
		for range 3 {
			before := parts.Mixer.Tone()
			follow("", func(float64) bool { return parts.Mixer.Tone() != before }, func(at float64) bool { return e.now() >= at+lag })
		}
	}
	cancel()
	if err := <-ended; err != nil {
		b.Error(err)
	}
	parts.Source.Close()
	card.Close()
	for what, ms := range times {
		sort.Float64s(ms)
		at := func(p float64) float64 { return ms[min(len(ms)-1, int(p*float64(len(ms))))] }
		b.ReportMetric(at(0.5), what+"-p50-ms")
		b.ReportMetric(at(0.99), what+"-p99-ms")
	}
	b.ReportMetric(float64(card.UnderRuns()), "under-runs")
}

// ear hears a sink's monitor, 5 ms at a time.
type ear struct {
	level   atomic.Uint64 // highest of the last 5 ms
	samples atomic.Int64  // heard so far
}

func newEar(heard io.Reader) *ear {
	e := &ear{}
	go func() {
		const n = audio.Rate / 200
		raw := make([]byte, 4*n)
		for {
			if _, err := io.ReadFull(heard, raw); err != nil {
				return
			}
			top := 0.0
			for i := 0; i < len(raw); i += 4 {
				top = math.Max(top, math.Abs(float64(int16(binary.LittleEndian.Uint16(raw[i:])))/32768))
			}
			e.level.Store(math.Float64bits(top))
			e.samples.Add(n)
		}
	}()
	return e
}

func (e *ear) loud() bool { return math.Float64frombits(e.level.Load()) > 0.002 }

// now is the ear's own time, s.
func (e *ear) now() float64 { return float64(e.samples.Load()) / audio.Rate }
