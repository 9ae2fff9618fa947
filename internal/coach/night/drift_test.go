package night

import (
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/hands"
)

// Without tracking the star is brought not to the middle but up-drift of it, and is
// asked for before its ring is cut off. 15.04 arcsec a second, the turning of the
// sky (2 pi in a sidereal day of 86164.1 s), are 0.0729 mm/s at a focal length of
// 1000 mm, 14.6 px of 5 um.
func TestStarIsBroughtUpDrift(t *testing.T) {
	p := newScript(t, Settings{})
	x := 700.0
	for range 600 {
		p.show(0.1, ringAt(x, 480, 100))
		x += 1.46
		if n := len(p.said); n > 0 && p.said[n-1].Action == cue.Recentre {
			break
		}
	}
	last := p.said[len(p.said)-1]
	if last.Action != cue.Recentre || x > 1280-100 {
		t.Fatalf("said %v, with the ring's middle at %.0f px of 1280", p.codes(), x)
	}
	if last.Code != cue.CodeRecentrePast || last.Goal == nil || last.Goal.X > 540 || last.Goal.Y < 470 || last.Goal.Y > 490 {
		t.Errorf("asked for %+v: the star drifts to the right, so its goal is left of the middle", last)
	}
	p.show(3, ringAt(x, 480, 100))
	was := p.last.Tone
	p.show(0.5, ringAt(last.Goal.X+20, last.Goal.Y, 100))
	if now := p.last.Tone; now.State != cue.ToneCentre || now.Error > 0 || was.Error < 0.8 {
		t.Errorf("the tone was %+v, and is %+v near the goal", was, now)
	}
}

// A star that is tracked goes to the middle.
func TestTrackedStarGoesToTheMiddle(t *testing.T) {
	p := newScript(t, Settings{})
	p.show(3, ringAt(1200, 480, 100))
	if len(p.said) == 0 || p.said[0].Code != cue.CodeRecentre || p.said[0].Goal != nil {
		t.Errorf("said %+v", p.said)
	}
	if g := p.c.goal(); r2.Norm(g) > 0.01 {
		t.Errorf("goal %v", g)
	}
}

// What gave way to a push is asked for again, but not where the hand has done it all the
// same: a ring that is asked to grow once more each time ends larger than the frame.
func TestWhatWasDoneIsNotAskedForAgain(t *testing.T) {
	more := cue.Cue{Code: cue.CodeDefocus, Action: cue.Defocus, Direction: cue.More}
	less := cue.Cue{Code: cue.CodeDefocus, Action: cue.Defocus, Direction: cue.Less}
	other := cue.Cue{Code: cue.CodeOtherSide, Action: cue.OtherSide}
	for _, test := range []struct {
		asked cue.Cue
		grown float64 // the ring since then
		side  float64 // when the side of focus changed last; the cue was spoken at 10 s
		again bool
	}{
		{more, 1.25, 0, false},
		{more, 1.01, 0, true},
		{less, 0.8, 0, false},
		{less, 0.99, 0, true},
		{other, 1, 12, false},
		{other, 1, 5, true},
	} {
		p := newScript(t, Settings{})
		p.show(1, ringAt(640, 480, 100))
		p.c.owed = &hand{Task: hands.Task{Kind: hands.Racking, SpokenAt: 10}, cue: test.asked, radius0: p.c.radius / test.grown}
		p.c.sideT = test.side
		if got := p.c.resume(); (got != nil) != test.again {
			t.Errorf("%s %s, ring %g times as large: asked again: %v", test.asked.Code, test.asked.Direction, test.grown, got)
		}
	}
}
