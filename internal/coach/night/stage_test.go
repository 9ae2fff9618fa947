package night

import (
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio/command"
	"halocue/internal/coach"
	"halocue/internal/cue"
	"halocue/internal/observe"
)

// script plays sights to a coach at ten frames a second and lets every word be
// heard out after a second and a half.
type script struct {
	c    *Coach
	t    float64
	ends map[int]float64
	said []cue.Cue
	last cue.Advice
}

func newScript(t *testing.T, s Settings) *script {
	if s.Telescope.Aperture == 0 {
		s.Telescope, s.PixelMM = f5inch8, 0.005
	}
	return &script{c: mustNew(t, s), ends: map[int]float64{}}
}

// show plays the same sight for some seconds.
func (p *script) show(seconds float64, s observe.Sight) {
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

func (p *script) hear(a cue.Advice) {
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
func ringAt(x, y, radius float64) observe.Sight {
	return observe.Sight{Found: true, Seen: true, Star: r2.Vec{X: x, Y: y}, Radius: radius, Shadow: radius / 4, Sigma: r2.Vec{X: 0.1, Y: 0.1}, Level: 0.4}
}

// Each reason for seeing nothing has its next step; the Sun comes first of all.
func TestWhatIsAskedWhenNothingIsSeen(t *testing.T) {
	for _, c := range []struct {
		why, code string
		action    cue.Action
		direction string
	}{
		{"dark", cue.CodeFindStar, cue.Recentre, ""},
		{"no-ring", cue.CodeFindStar, cue.Recentre, ""},
		{"focused", cue.CodeFocused, cue.Defocus, cue.More},
		{"no-shadow", cue.CodeDefocus, cue.Defocus, cue.More},
		{"cut-off", cue.CodeRecentre, cue.Recentre, ""},
		{"clipped", cue.CodeOverlit, cue.Defocus, cue.More},
		{"faint", cue.CodeFaint, cue.Warn, ""},
		{"blurred", cue.CodeBlurred, cue.Warn, ""},
		{"two-stars", cue.CodeTwoStars, cue.Warn, ""},
		{"too-bright", cue.CodeSun, cue.Warn, ""},
	} {
		p := newScript(t, Settings{})
		p.show(9, observe.Sight{Why: c.why})
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
		action cue.Action
	}{{r2.Vec{X: 600, Y: 420}, cue.Defocus}, {r2.Vec{X: 1240, Y: 420}, cue.Recentre}} {
		p := newScript(t, Settings{})
		p.show(9, observe.Sight{Why: "cut-off", Seen: true, Star: c.star})
		if len(p.said) == 0 || p.said[0].Action != c.action || c.action == cue.Defocus && p.said[0].Direction != cue.Less {
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
	p.show(0.5, observe.Sight{Why: "too-bright"})
	if len(p.said) != was+1 || p.said[was].Code != cue.CodeSun {
		t.Fatalf("said %v", p.codes())
	}
	p.show(20, observe.Sight{Why: "too-bright"})
	for _, c := range p.said[was:] {
		if c.Code != cue.CodeSun {
			t.Errorf("%s is said in the face of the Sun", c.Code)
		}
	}
	if n := len(p.said) - was; n < 3 {
		t.Errorf("warned %d times in twenty seconds", n)
	}
	if p.last.Tone.State != cue.ToneOff {
		t.Error("the tone goes on")
	}
}

// The frame is kept: a star at the edge is brought back, a ring too small or too
// large for it is changed, before anything else.
func TestFraming(t *testing.T) {
	for _, c := range []struct {
		name      string
		sight     observe.Sight
		action    cue.Action
		direction string
	}{
		{"at the edge", ringAt(1200, 480, 100), cue.Recentre, ""},
		{"small ring", ringAt(640, 480, 25), cue.Defocus, cue.More},
		{"large ring", ringAt(640, 480, 380), cue.Defocus, cue.Less},
		{"good ring", ringAt(640, 480, 100), cue.OtherSide, ""},
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
	p := newScript(t, Settings{})
	p.show(nightLength+60, ringAt(640, 480, 100))
	if !slices.Contains(p.codes(), cue.CodeOtherSide) || !slices.Contains(p.codes(), cue.CodeTwoRings) {
		t.Errorf("said %v", p.codes())
	}
	last := p.said[len(p.said)-1]
	if last.Action != cue.Done || last.Result == cue.Aligned {
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
	p.hear(p.c.Hear(command.Status, p.t))
	p.hear(p.c.Hear(command.WhichKnob, p.t))
	p.hear(p.c.Hear(command.Undo, p.t))
	if got := strings.Join(p.codes(), " "); got != strings.Join([]string{cue.CodeStatus, cue.CodeNoKnob, cue.CodeNoUndo}, " ") {
		t.Errorf("before anything is known: %s", got)
	}
	p.hear(p.c.Hear(command.Wait, p.t))
	was := len(p.said)
	p.show(10, ringAt(640, 480, 100))
	if len(p.said) != was {
		t.Errorf("said %v during a pause", p.codes()[was:])
	}
	p.hear(p.c.Hear(command.GoOn, p.t))
	p.show(3, ringAt(640, 480, 100))
	if got := p.codes()[was:]; len(got) != 2 || got[0] != cue.CodeGoingOn || got[1] != cue.CodeOtherSide {
		t.Errorf("after the pause: %v", got)
	}
	p.hear(p.c.Hear(command.Status, p.t))
	if last := p.said[len(p.said)-1]; last.Code != cue.CodeStatus || last.Args["ratio"] == nil {
		t.Errorf("status: %+v", last)
	}
	p.hear(p.c.Hear(command.Finished, p.t))
	if last := p.said[len(p.said)-1]; last.Action != cue.Done || last.Result != cue.GivenUp {
		t.Errorf("finished: %+v", last)
	}
}

// Settings that cannot be are refused, in words that name the remedy.
func TestSettingsAreChecked(t *testing.T) {
	good := Settings{Settings: coach.Settings{Telescope: f5inch8}}
	for want, change := range map[string]func(*Settings){
		"take it out first": func(s *Settings) { s.Corrector = true },
		"diameter":          func(s *Settings) { s.Telescope.Aperture = -1 },
		"focal length":      func(s *Settings) { s.Telescope.FocalLength = math.NaN() },
		"pixel size":        func(s *Settings) { s.PixelMM = -0.005 },
		"knobs":             func(s *Settings) { s.Knobs = []cue.Knob{{Name: "one", Clock: 12}} },
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

// An unknown pixel makes the claim stricter.
func TestUnknownPixel(t *testing.T) {
	tol := newScript(t, Settings{}).c.o.Tolerance
	if c := newScript(t, Settings{Settings: coach.Settings{Telescope: f5inch8}}).c; c.o.Tolerance/c.o.Pixel >= tol/0.005 {
		t.Error("without the pixel's size the tolerance is not stricter in pixels")
	}
}

// Where more defocus shows no shadow it is not asked for without end: what else hides
// one is said, and seldom.
func TestNoShadowIsNotAskedAwayForever(t *testing.T) {
	p := newScript(t, Settings{})
	p.show(600, observe.Sight{Why: "no-shadow", Seen: true})
	count := map[string]int{}
	for _, c := range p.said {
		count[c.Code]++
	}
	asked := count[cue.CodeDefocus] + count[cue.CodeNoShadow] // each again for a hand that is late
	if asked > 12 || count[cue.CodeNoShadow] == 0 || count[cue.CodeStillNoShadow] < 2 || count[cue.CodeStillNoShadow] > 25 {
		t.Errorf("in ten minutes: %v", count)
	}
	p.show(5, ringAt(400, 300, 60)) // it is seen, and gone again
	p.said = nil
	p.show(30, observe.Sight{Why: "no-shadow", Seen: true})
	if !slices.ContainsFunc(p.said, func(c cue.Cue) bool { return c.Code == cue.CodeDefocus }) {
		t.Errorf("after a ring was seen: %v", p.said)
	}
}

// What keeps a ring from being measured is said again ever more seldom.
func TestWarningsGrowSeldom(t *testing.T) {
	for _, why := range []string{"two-stars", "faint", "blurred"} {
		p := newScript(t, Settings{})
		p.show(600, observe.Sight{Why: why, Seen: true})
		if n := len(p.said); n < 8 || n > 16 {
			t.Errorf("%s: said %d times in ten minutes", why, n)
		}
	}
}
