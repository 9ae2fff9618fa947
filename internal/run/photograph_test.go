package run

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/text/language"

	"halocue/audio"
	"halocue/internal/coach"
	bynight "halocue/internal/coach/night"
	"halocue/internal/cue"
	"halocue/internal/measure"
	"halocue/internal/optics"
	"halocue/prompts"
	"halocue/vision/frame"
	"halocue/vision/ring"
	"halocue/vision/still"
)

// stream shows one photograph again and again, on a dark sky, each time elsewhere by some
// pixels and with its own noise: a star in a shaky mount.
type stream struct {
	photo *frame.Frame
	sky   float32
	left  int
	rng   *rand.Rand
}

func (s *stream) Next(context.Context) (*frame.Frame, error) {
	if s.left--; s.left < 0 {
		return nil, io.EOF
	}
	f := frame.New(2*s.photo.Width, 2*s.photo.Height)
	f.White = s.photo.White
	for i := range f.Pix {
		f.Pix[i] = s.sky
	}
	x0, y0 := s.photo.Width/2+s.rng.IntN(5)-2, s.photo.Height/2+s.rng.IntN(5)-2
	for y := range s.photo.Height {
		copy(f.Pix[(y0+y)*f.Width+x0:], s.photo.Pix[y*s.photo.Width:(y+1)*s.photo.Width])
	}
	for i := range f.Pix {
		f.Pix[i] = max(0, f.Pix[i]+float32(s.rng.NormFloat64())*0.02*s.sky)
	}
	return f, nil
}

func (s *stream) Close() error { return nil }

// A night before the photographs of real stars (testdata/photographs), told the focal
// ratio and the pixel alone: the ring is seen within a second, nobody is sent further out
// of focus, nothing is claimed from one side of focus, and the pixel is not doubted.
func TestNightBeforePhotographs(t *testing.T)      { nightBeforePhotographs(t, 2) }
func TestProveNightBeforePhotographs(t *testing.T) { nightBeforePhotographs(t, 100) }

func nightBeforePhotographs(t *testing.T, most int) {
	const dir, fps, seconds = "../../testdata/photographs", 10.0, 4
	files, err := filepath.Glob(filepath.Join(dir, "*.fits"))
	if err != nil || len(files) == 0 {
		t.Fatal("no photographs", err)
	}
	for i, name := range files[:min(most, len(files))] {
		t.Run(filepath.Base(name), func(t *testing.T) {
			t.Parallel()
			photo, err := still.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			src := &stream{photo: photo, sky: photo.Pix[0], left: seconds * fps, rng: rand.New(rand.NewPCG(1, uint64(i)))}
			tel := optics.Telescope{Aperture: 1000, FocalLength: 2700}
			c, err := bynight.New(bynight.Settings{Settings: coach.Settings{Telescope: tel}, PixelMM: 0.015, PixelUnsure: 4, FPS: fps})
			if err != nil {
				t.Fatal(err)
			}
			words, err := prompts.New(language.English, prompts.Normal)
			if err != nil {
				t.Fatal(err)
			}
			config := ring.Config{Telescope: tel, PixelMM: 0.015}
			figure := NewFigureMeter(ring.NewMeter(config), measure.Job{Telescope: tel, PixelMM: 0.015})
			if i < 3 { // a careful look takes a second
				figure.Careful(ring.NewMeter(config), false)
			}
			mixer := audio.NewMixer(audio.Settings{})
			var out bytes.Buffer
			_, err = Frames(context.Background(), Parts{
				Source: src, Meter: figure, Figure: figure, Coach: c, Narrator: prompts.NewNarrator(words), Speech: mime{},
				Mixer: mixer, Sink: audio.NewNull(mixer), Transcript: NewTranscript(&out),
			}, fps)
			if err != nil {
				t.Fatal(err)
			}
			first := -1.0
			for _, line := range strings.Split(strings.TrimSpace(out.String()), "\n") {
				var e struct {
					T                                      float64
					Event, Action, Code, Direction, Result string
					Found                                  bool
				}
				if err := json.Unmarshal([]byte(line), &e); err != nil {
					t.Fatal(err)
				}
				switch {
				case e.Event == "measure" && e.Found && first < 0:
					first = e.T
				case e.Event == "say" && (e.Action == "defocus" && e.Direction == "more" || e.Result == cue.Aligned || e.Code == cue.CodePixelSize):
					t.Errorf("at %.1f: %s", e.T, line)
				}
			}
			if first < 0 || first > 1 {
				t.Errorf("the ring is first seen at %.1f s", first)
			}
		})
	}
}
