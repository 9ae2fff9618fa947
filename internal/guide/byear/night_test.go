package byear

import (
	"context"
	"fmt"
	"io"
	"strings"
	"testing"

	"golang.org/x/text/language"
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio"
	"halocue/internal/coach"
	"halocue/internal/coach/nights"
	"halocue/internal/frame"
	"halocue/internal/guide"
	"halocue/internal/virtual"
	"halocue/prompts"
	"halocue/prompts/voice"
	"halocue/vision/ring"
)

const (
	fps   = 10
	limit = 420 // s of a night, after which the stream ends
)

// scope is the virtual telescope without pixels: a source of empty frames, and a
// meter that says what a measurement would. The pixels are proved elsewhere.
type scope struct {
	tel   *virtual.Telescope
	hands *virtual.Hands
	count int
	frame *frame.Frame
}

func (s *scope) Next(context.Context) (*frame.Frame, error) {
	if s.count > limit*fps {
		return nil, io.EOF
	}
	s.hands.Advance(float64(s.count) / fps)
	s.count++
	return s.frame, nil
}

func (s *scope) Close() error { return nil }

func (s *scope) Track(*frame.Frame) ring.Measurement {
	v := s.tel.Look()
	return ring.Measurement{
		Found: v.Found, Why: ring.Why(v.Why), Star: v.Star, Seen: v.Seen,
		Ring:   ring.Circle{X: v.Star.X, Y: v.Star.Y, Radius: v.Radius},
		Shadow: ring.Circle{X: v.Star.X + v.Offset.X, Y: v.Star.Y + v.Offset.Y, Radius: v.Shadow},
		Offset: v.Offset, Sigma: v.Sigma, Level: v.Level, Clipped: v.Clipped,
	}
}

// The hands act on what a listener makes of the sound and on nothing else, and the
// mirror comes true: on ten nights of ten.
func TestTenNightsByEar(t *testing.T) {
	if testing.Short() {
		t.Skip("ten nights take a minute or two")
	}
	for seed := uint64(1); seed <= 10; seed++ {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			t.Parallel()
			tel := virtual.New(virtual.Draw(seed, virtual.Options{}))
			n := tel.Night()
			s := &scope{tel: tel, hands: virtual.NewHands(tel), frame: &frame.Frame{Width: n.Camera.Width, Height: n.Camera.Height}}
			p := newPerson(t, n.Cell.Knobs, s.hands.Hear)
			parts := newParts(t, n)
			parts.Source, parts.Meter = s, s
			parts.Commands, parts.Echo = p.button, p
			a := newAir(t, parts.Desk, p)
			parts.Sink = a
			out, err := guide.Frames(context.Background(), parts, fps)
			if err != nil {
				t.Fatal(err)
			}
			if err := a.Close(); err != nil {
				t.Error(err)
			}
			p.judge(t, out, r2.Norm(tel.Truth().Axis)/n.Telescope.Tolerance())
		})
	}
}

// newParts is a night's program, from the coach to the desk.
func newParts(t testing.TB, n virtual.Night) guide.Parts {
	t.Helper()
	c, err := coach.New(nights.Settings(n, fps))
	if err != nil {
		t.Fatal(err)
	}
	phrases, err := prompts.New(language.English, prompts.Normal)
	if err != nil {
		t.Fatal(err)
	}
	engine, err := voice.Espeak("en", 160)
	if err != nil {
		t.Fatal(err)
	}
	return guide.Parts{
		Coach: c, Narrator: prompts.NewNarrator(phrases), Speech: voice.NewSpeaker(engine),
		Desk: audio.NewDesk(audio.Settings{}),
	}
}

// judge holds the night against the truth, which neither side knew: off is how far
// the axis point is from the target, in tolerances.
func (p *person) judge(t testing.TB, out guide.Outcome, off float64) {
	t.Logf("%s after %.0f s, %d sentences acted on, %d asked for again, truly %.2f tolerances off", out.Result, out.Time, p.acted, p.asked, off)
	if off > 1 || out.Result != coach.Aligned && out.Result != coach.AirLimit {
		t.Errorf("result %q, %.2f tolerances off", out.Result, off)
	}
	if t.Failed() || testing.Verbose() {
		t.Logf("what was said, and what was heard:\n%s", strings.Join(p.log, "\n"))
	}
}
