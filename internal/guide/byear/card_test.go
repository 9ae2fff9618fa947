package byear

import (
	"context"
	"encoding/binary"
	"io"
	"math"
	"os"
	"sort"
	"sync/atomic"
	"testing"
	"time"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio"
	"halocue/audio/device"
	"halocue/audio/device/devicetest"
	"halocue/internal/frame"
	"halocue/internal/guide"
	"halocue/internal/virtual"
	"halocue/vision"
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
func pixels(b *testing.B, n virtual.Night, src vision.Source) (guide.Parts, *device.Card) {
	b.Helper()
	p := newParts(b, n)
	p.Source = vision.Newest(src)
	p.Meter = ring.NewMeter(ring.Config{Telescope: n.Telescope, PixelMM: n.Camera.Pixel})
	card, err := device.Open(device.Config{Desk: p.Desk})
	if err != nil {
		b.Fatal(err)
	}
	p.Sink = card
	return p, card
}

// BenchmarkNightByEar is one night as it is: pixels, PortAudio, the wall clock, and a
// person who hears what the sound server plays. It fails where the mirror is not true.
//
//	go test -run XXX -bench NightByEar -benchtime 1x -v ./internal/guide/byear
func BenchmarkNightByEar(b *testing.B) {
	for b.Loop() {
		heard := room(b)
		src := virtual.NewSource(virtual.Demo(1), virtual.SourceOptions{FPS: fps, Wall: true, Closed: vision.ErrClosed})
		n := src.Night()
		parts, card := pixels(b, n, src)
		begun := time.Now()
		p := newPerson(b, n.Cell.Knobs, func(in virtual.Instruction) {
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
		out, err := guide.Live(ctx, parts)
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
	star, dark *frame.Frame
	count      int
	arrived    atomic.Int64 // when the last frame came, Unix ns
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
	return s.star, nil
}

func (s *blinking) Close() error { return nil }

// mute is a voice that takes its time and is not heard.
type mute struct{}

func (mute) Clip(context.Context, string) (audio.Clip, error) {
	return audio.FromPCM(audio.Rate, make([]int16, audio.Rate/2))
}

// From the arrival of a frame to the changed sample: in PortAudio's hands (wanted:
// 25 ms at the 99th percentile), and in the recorded monitor of the sink (wanted:
// 100 ms). In between lie the measurement of the ring, the coach and the desk.
//
//	go test -run XXX -bench FrameToEar -benchtime 100x ./internal/guide/byear
func BenchmarkFrameToEar(b *testing.B) {
	heard := room(b)
	var level atomic.Uint64 // in the last 5 ms
	go func() {
		raw := make([]byte, 4*audio.Rate/200)
		for {
			if _, err := io.ReadFull(heard, raw); err != nil {
				return
			}
			top := 0.0
			for i := 0; i < len(raw); i += 4 {
				top = math.Max(top, math.Abs(float64(int16(binary.LittleEndian.Uint16(raw[i:])))/32768))
			}
			level.Store(math.Float64bits(top))
		}
	}()
	loud := func() bool { return math.Float64frombits(level.Load()) > 0.002 }

	n := virtual.Demo(1)
	src := &blinking{}
	star, err := virtual.NewSource(n, virtual.SourceOptions{FPS: fps}).Next(context.Background())
	if err != nil {
		b.Fatal(err)
	}
	dark := *star
	dark.Pix = make([]float32, len(star.Pix))
	src.star, src.dark = star, &dark
	parts, card := pixels(b, n, src)
	parts.Speech = mute{}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() {
		_, err := guide.Live(ctx, parts)
		ended <- err
	}()

	var decided, handed, ear []float64
	wait := func(ok func() bool) {
		for began := time.Now(); !ok(); time.Sleep(100 * time.Microsecond) {
			if time.Since(began) > 20*time.Second {
				b.Fatal("nothing is heard")
			}
		}
	}
	off := func() bool { return parts.Desk.Tone().State == audio.Off }
	for b.Loop() {
		wait(func() bool { return off() && !loud() })
		wait(func() bool { return !off() })
		since := time.Unix(0, src.arrived.Load()) // the frame that brought the tone back
		ms := func() float64 { return float64(time.Since(since).Microseconds()) / 1000 }
		decided = append(decided, ms())
		pulled := parts.Desk.Time()
		wait(func() bool { return parts.Desk.Time() > pulled })
		handed = append(handed, ms())
		wait(loud)
		ear = append(ear, ms())
	}
	cancel()
	if err := <-ended; err != nil {
		b.Error(err)
	}
	parts.Source.Close()
	card.Close()
	for _, r := range []struct {
		what string
		ms   []float64
	}{{"decided", decided}, {"handed", handed}, {"heard", ear}} {
		sort.Float64s(r.ms)
		at := func(p float64) float64 { return r.ms[min(len(r.ms)-1, int(p*float64(len(r.ms))))] }
		b.ReportMetric(at(0.5), r.what+"-p50-ms")
		b.ReportMetric(at(0.99), r.what+"-p99-ms")
	}
	b.ReportMetric(float64(card.UnderRuns()), "under-runs")
}
