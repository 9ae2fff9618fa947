package coach

import (
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

// script plays sights to a coach at ten frames a second and lets every word be
// heard out after a second and a half.
type script struct {
	c    *Coach
	t    float64
	ends map[int]float64
	said []Cue
	last Advice
}

func newScript(t *testing.T, s Settings) *script {
	if s.Telescope.Aperture == 0 {
		s.Telescope, s.PixelMM = f5, 0.005
	}
	return &script{c: mustNew(t, s), ends: map[int]float64{}}
}

// show plays the same sight for some seconds.
func (p *script) show(seconds float64, s Sight) {
	for end := p.t + seconds; p.t < end; p.t += 0.1 {
		for id, at := range p.ends {
			if at <= p.t {
				p.c.Ended(id, at)
				delete(p.ends, id)
			}
		}
		s.T, s.Width, s.Height = p.t, 1280, 960
		p.hear(p.c.See(s))
	}
}

func (p *script) hear(a Advice) {
	p.last = a
	p.said = append(p.said, a.Cues...)
	for _, c := range a.Cues {
		p.c.Began(c.ID, p.t)
		p.ends[c.ID] = p.t + 1.5
	}
}

func (p *script) codes() (out []string) {
	for _, c := range p.said {
		out = append(out, c.Code)
	}
	return out
}

// ringAt is a good ring with its centre at x, y px and the given radius, px.
func ringAt(x, y, radius float64) Sight {
	return Sight{Found: true, Seen: true, Star: r2.Vec{X: x, Y: y}, Radius: radius, Shadow: radius / 4, Sigma: r2.Vec{X: 0.1, Y: 0.1}, Level: 0.4}
}

// Each reason for seeing nothing has its next step; the Sun comes first of all.
func TestWhatIsAskedWhenNothingIsSeen(t *testing.T) {
	for _, c := range []struct {
		why, code string
		action    Action
		direction string
	}{
		{"dark", CodeFindStar, Recentre, ""},
		{"no-ring", CodeFindStar, Recentre, ""},
		{"focused", CodeFocused, Defocus, More},
		{"no-shadow", CodeDefocusMore, Defocus, More},
		{"cut-off", CodeRecentre, Recentre, ""},
		{"clipped", CodeOverlit, Defocus, More},
		{"faint", CodeFaint, Warn, ""},
		{"blurred", CodeBlurred, Warn, ""},
		{"two-stars", CodeTwoStars, Warn, ""},
		{"too-bright", CodeSun, Warn, ""},
	} {
		p := newScript(t, Settings{})
		p.show(9, Sight{Why: c.why})
		if len(p.said) == 0 {
			t.Errorf("%s: nothing is said in nine seconds", c.why)
			continue
		}
		if got := p.said[0]; got.Code != c.code || got.Action != c.action || got.Direction != c.direction {
			t.Errorf("%s: says %s (%s %s), want %s (%s %s)", c.why, got.Code, got.Action, got.Direction, c.code, c.action, c.direction)
		}
	}
}

// Light in the middle that reaches over the frame's edges is a ring too large for
// it; at the edge it is a star to be brought back.
func TestRingLargerThanTheFrame(t *testing.T) {
	for _, c := range []struct {
		star   r2.Vec
		action Action
	}{{r2.Vec{X: 600, Y: 420}, Defocus}, {r2.Vec{X: 1240, Y: 420}, Recentre}} {
		p := newScript(t, Settings{})
		p.show(9, Sight{Why: "cut-off", Seen: true, Star: c.star})
		if len(p.said) == 0 || p.said[0].Action != c.action || c.action == Defocus && p.said[0].Direction != Less {
			t.Errorf("light about %v: said %+v, want %s", c.star, p.said, c.action)
		}
	}
}

// A flooded field is danger: within half a second, again and again, in the middle
// of anything, and with the tone off.
func TestSunIsWarnedOfAtOnce(t *testing.T) {
	p := newScript(t, Settings{})
	p.show(2, ringAt(640, 480, 100))
	was := len(p.said)
	p.show(0.5, Sight{Why: "too-bright"})
	if len(p.said) != was+1 || p.said[was].Code != CodeSun {
		t.Fatalf("said %v", p.codes())
	}
	p.show(20, Sight{Why: "too-bright"})
	for _, c := range p.said[was:] {
		if c.Code != CodeSun {
			t.Errorf("%s is said in the face of the Sun", c.Code)
		}
	}
	if n := len(p.said) - was; n < 3 {
		t.Errorf("warned %d times in twenty seconds", n)
	}
	if p.last.Tone.State != ToneOff {
		t.Error("the tone goes on")
	}
}

// The frame is kept: a star at the edge is brought back, a ring too small or too
// large for it is changed, before anything else.
func TestFraming(t *testing.T) {
	for _, c := range []struct {
		name      string
		sight     Sight
		action    Action
		direction string
	}{
		{"at the edge", ringAt(1200, 480, 100), Recentre, ""},
		{"small ring", ringAt(640, 480, 25), Defocus, More},
		{"large ring", ringAt(640, 480, 380), Defocus, Less},
		{"good ring", ringAt(640, 480, 100), OtherSide, ""},
	} {
		p := newScript(t, Settings{})
		p.show(2, c.sight)
		if len(p.said) != 1 || p.said[0].Action != c.action || p.said[0].Direction != c.direction {
			t.Errorf("%s: said %+v, want one %s %s", c.name, p.said, c.action, c.direction)
		}
	}
}

// One side of focus, however long it is looked at, is never called aligned: the
// other side is asked for, then a second defocus, and the end is honest.
func TestOneSideIsNeverAligned(t *testing.T) {
	p := newScript(t, Settings{Patience: Patience{Look: 10, Night: 200}})
	p.show(260, ringAt(640, 480, 100))
	if !slices.Contains(p.codes(), CodeOtherSide) || !slices.Contains(p.codes(), CodeTwoRings) {
		t.Errorf("said %v", p.codes())
	}
	last := p.said[len(p.said)-1]
	if last.Action != Done || last.Result == Aligned {
		t.Errorf("the night ended with %+v", last)
	}
}

// Silence while a hand has not been given its time, never two instructions at once.
func TestOneInstructionAtATime(t *testing.T) {
	p := newScript(t, Settings{})
	p.show(4, ringAt(640, 480, 100))
	if n := len(p.said); n != 1 {
		t.Errorf("%d cues in four seconds: %v", n, p.codes())
	}
}

// A pause is kept until it is lifted; questions are answered meanwhile.
func TestCommands(t *testing.T) {
	p := newScript(t, Settings{})
	p.hear(p.c.Hear(Status, p.t))
	p.hear(p.c.Hear(WhichKnob, p.t))
	p.hear(p.c.Hear(Undo, p.t))
	if got := strings.Join(p.codes(), " "); got != strings.Join([]string{CodeStatusNot, CodeNoKnob, CodeNoUndo}, " ") {
		t.Errorf("before anything is known: %s", got)
	}
	p.hear(p.c.Hear(Hold, p.t))
	was := len(p.said)
	p.show(10, ringAt(640, 480, 100))
	if len(p.said) != was {
		t.Errorf("said %v during a pause", p.codes()[was:])
	}
	p.hear(p.c.Hear(GoOn, p.t))
	p.show(3, ringAt(640, 480, 100))
	if got := p.codes()[was:]; len(got) != 2 || got[0] != CodeGoingOn || got[1] != CodeOtherSide {
		t.Errorf("after the pause: %v", got)
	}
	p.hear(p.c.Hear(Status, p.t))
	if last := p.said[len(p.said)-1]; last.Code != CodeStatus || last.Args["ratio"] == nil {
		t.Errorf("status: %+v", last)
	}
	p.hear(p.c.Hear(Finished, p.t))
	if last := p.said[len(p.said)-1]; last.Action != Done || last.Result != GivenUp || !p.last.Done {
		t.Errorf("finished: %+v", last)
	}
}

// Settings that cannot be are refused, in words that name the remedy.
func TestSettingsAreChecked(t *testing.T) {
	good := Settings{Telescope: f5}
	for want, change := range map[string]func(*Settings){
		"take it out first": func(s *Settings) { s.Corrector = true },
		"diameter":          func(s *Settings) { s.Telescope.Aperture = -1 },
		"focal length":      func(s *Settings) { s.Telescope.FocalLength = math.NaN() },
		"pixel size":        func(s *Settings) { s.PixelMM = -0.005 },
		"knobs":             func(s *Settings) { s.Knobs = []Knob{{"one", 12}} },
		"goal":              func(s *Settings) { s.Goal = 3 },
	} {
		s := good
		change(&s)
		if _, err := New(s); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", want, err)
		}
	}
	if _, err := New(good); err != nil {
		t.Error(err)
	}
}

// A stricter goal makes the claim stricter; an unknown pixel too.
func TestGoalAndPixel(t *testing.T) {
	tol := newScript(t, Settings{}).c.o.tol
	if got := newScript(t, Settings{Telescope: f5, PixelMM: 0.005, Goal: 0.5}).c.o.tol; got != tol/2 {
		t.Errorf("goal 0.5 gives %.2f of %.2f mm", got, tol)
	}
	if c := newScript(t, Settings{Telescope: f5}).c; c.o.tol/c.o.pixel >= tol/0.005 {
		t.Error("without the pixel's size the tolerance is not stricter in pixels")
	}
}
