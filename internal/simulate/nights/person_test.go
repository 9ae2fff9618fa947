package nights

import (
	"testing"

	"halocue/internal/cue"
)

var small = DrawOptions{Width: 960, Height: 720, Pixel: 0.005}

// With each kind of hands the night ends with a true mirror. Hardly anything is said again
// before the hands have begun, and then in the same words.
func TestEveryPersonIsWaitedFor(t *testing.T)      { everyPersonIsWaitedFor(t, few) }
func TestProveEveryPersonIsWaitedFor(t *testing.T) { everyPersonIsWaitedFor(t, many) }

func everyPersonIsWaitedFor(t *testing.T, count int) {
	rs, err := RunAll(7001, count, Options{Draw: small, Person: Mixed})
	if err != nil {
		t.Fatal(err)
	}
	s := Summarise(rs)
	if s.False > 0 || s.Aligned+s.Air < len(rs)-1 {
		t.Errorf("of %d nights %d aligned, %d as good as the air allows, %d false", len(rs), s.Aligned, s.Air, s.False)
	}
	if s.Hurried.P50 > 0 || s.Hurried.P95 > 2 || s.Knocked > len(rs)/5 {
		t.Errorf("told again before they had begun: %+v; %d times knocked in %d nights", s.Hurried, s.Knocked, len(rs))
	}
	repeated := 0
	for _, r := range rs {
		asked := map[string]cue.Cue{} // by knob
		for _, c := range r.Said {
			if was, ok := asked[c.Knob]; ok && c.Action == cue.Turn && c.Again {
				repeated++
				if c.Direction != was.Direction || c.Turns != was.Turns {
					t.Errorf("%s, seed %d, %.1f s: %s %s %.4f is said again as %s %.4f", r.Person, r.Seed, c.Begin,
						c.Knob, was.Direction, was.Turns, c.Direction, c.Turns)
				}
			}
			if c.Action == cue.Turn {
				asked[c.Knob] = c.Cue
			}
		}
	}
	if repeated == 0 && count == many {
		t.Error("no turn was ever said again: this test shows nothing")
	}
}

// At 15 arcsec a second without tracking the mirror is aligned, proved on both sides
// of focus, with at most twice the pushes that it takes with tracking. The focuser has
// been tried: a side more to see is a push more without tracking, and none with it.
func TestUntrackedNights(t *testing.T)      { untrackedNights(t, few) }
func TestProveUntrackedNights(t *testing.T) { untrackedNights(t, many) }

func untrackedNights(t *testing.T, count int) {
	deft := small
	deft.Tracked = true
	tracked, err := RunAll(8001, count/2, Options{Draw: deft, Holds: true})
	if err != nil {
		t.Fatal(err)
	}
	rs, err := RunAll(8001, count/2, Options{Draw: deft, Change: Untrack, Holds: true})
	if err != nil {
		t.Fatal(err)
	}
	pushes, with := 0, 0
	for i, r := range rs {
		pushes, with = pushes+r.Recentres, with+tracked[i].Recentres
		if r.False || r.Result != cue.Aligned && r.Result != cue.AirLimit {
			t.Errorf("seed %d: ended %q, %.2f tolerances off, after %.0f s", r.Seed, r.Result, r.Error, r.Seconds)
		}
		if r.Result == cue.Aligned && r.Sides == 0 {
			t.Errorf("seed %d: aligned, and the other side was never asked for", r.Seed)
		}
	}
	if t.Logf("%d pushes, %d with tracking", pushes, with); count == many && pushes > 2*with {
		t.Errorf("%d pushes, with tracking %d", pushes, with)
	}
}

func TestPersonsOfANight(t *testing.T) {
	if _, err := Run(1, Options{Person: "nobody"}, nil); err == nil {
		t.Error("a person who is none guides a night")
	}
}
