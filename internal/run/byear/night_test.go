package byear

import (
	"context"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"golang.org/x/text/language"
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio"
	"halocue/internal/coach/night"
	"halocue/internal/cue"
	"halocue/internal/run"
	"halocue/internal/simulate/nights"
	"halocue/internal/simulate/telescope"
	"halocue/prompts"
	"halocue/prompts/voice"
	"halocue/vision/frame"
	"halocue/vision/ring"
)

const (
	fps   = 10
	limit = 600 // s of a night, after which the stream ends
)

// scope is the virtual telescope without pixels: a source of empty frames, and a
// meter that says what a measurement would. The pixels are proved elsewhere.
type scope struct {
	tel   *telescope.Telescope
	hands *telescope.Hands
	count int
	frame *frame.Frame
}

func newScope(n telescope.Night) *scope {
	tel := telescope.New(n)
	return &scope{tel: tel, hands: telescope.NewHands(tel), frame: &frame.Frame{Width: n.Camera.Width, Height: n.Camera.Height}}
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
// mirror comes true.
func TestNightByEar(t *testing.T) {
	byEar(t, nights.Draw(5, nights.DrawOptions{})) // one of the shorter ones
}

// On ten nights of ten.
func TestProveTenNightsByEar(t *testing.T) {
	for seed := uint64(1); seed <= 10; seed++ {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			t.Parallel()
			byEar(t, nights.Draw(seed, nights.DrawOptions{}))
		})
	}
}

// The same with the hands of a first-timer: they begin 3 to 12 s after the words, walk
// round the tube, take a wrong knob in ten, and half to one and a half of what was
// asked (internal/simulate/telescope/person.go).
func TestProveFirstTimerByEar(t *testing.T) {
	p, err := telescope.PersonNamed("first-timer")
	if err != nil {
		t.Fatal(err)
	}
	n := nights.Draw(16, nights.DrawOptions{})
	n.Skill = p.Skill
	byEar(t, n)
}

// byEar guides one night without pixels, heard in the file that the mixer writes.
func byEar(t *testing.T, n telescope.Night) {
	s := newScope(n)
	p := newPerson(t, n.Cell.Knobs, s.hands.Hear)
	parts := newParts(t, n, "en")
	parts.Source, parts.Meter = s, s
	parts.Commands, parts.Echo = p.button, p
	a := newAir(t, parts.Mixer, p)
	parts.Sink = a
	out, err := run.Frames(context.Background(), parts, fps)
	if err != nil {
		t.Fatal(err)
	}
	if err := a.Close(); err != nil {
		t.Error(err)
	}
	p.judge(t, out, r2.Norm(s.tel.Truth().Axis)/n.Telescope.Tolerance())
}

// newParts is a night's program in a language, from the coach to the mixer.
func newParts(t testing.TB, n telescope.Night, spoken string) run.Parts {
	t.Helper()
	c, err := night.New(nights.Settings(n, fps))
	if err != nil {
		t.Fatal(err)
	}
	phrases, err := prompts.New(language.Make(spoken), prompts.Normal)
	if err != nil {
		t.Fatal(err)
	}
	engine, err := voice.Espeak(spoken, 160)
	if err != nil {
		t.Fatal(err)
	}
	engine.Timeout = time.Minute // of a busy machine
	return run.Parts{
		Coach: c, Narrator: prompts.NewNarrator(phrases), Speech: voice.NewSpeaker(engine),
		Mixer: audio.NewMixer(audio.Settings{}),
	}
}

// judge holds the night against the truth, which neither side knew: off is how far
// the axis point is from the target, in tolerances.
func (p *person) judge(t testing.TB, out run.Outcome, off float64) {
	t.Logf("%s after %.0f s, %d sentences acted on, %d asked for again, truly %.2f tolerances off", out.Result, out.Time, p.acted, p.asked, off)
	if off > 1 || out.Result != cue.Aligned && out.Result != cue.AirLimit {
		t.Errorf("result %q, %.2f tolerances off", out.Result, off)
	}
	if t.Failed() || testing.Verbose() {
		t.Logf("what was said, and what was heard:\n%s", strings.Join(p.log, "\n"))
	}
}
