package nights

import (
	"math/rand/v2"
	"reflect"
	"testing"

	"halocue/audio/command"
	"halocue/internal/cue"
	"halocue/internal/observe"
	"halocue/internal/simulate/telescope"
)

// Nights of each kind, for a test and for a proof; the full thousand is `make nights`.
// How often something happens, and how long it takes, is for the proof.
const few, many = 12, 120

// Whole nights with clumsy hands end aligned, or honestly as good as the air
// allows, in the time and the cues that the design asks for; and no claim is false.
func TestNightsEndTrue(t *testing.T)      { nightsEndTrue(t, few) }
func TestProveNightsEndTrue(t *testing.T) { nightsEndTrue(t, many) }

func nightsEndTrue(t *testing.T, count int) {
	for _, c := range []struct {
		name                 string
		draw                 DrawOptions
		holds                bool // a focuser that an earlier night has tried
		seconds, turns, late float64
	}{
		{"1280x960", DrawOptions{Width: 1280, Height: 960, Pixel: 0.005}, true, 60, 5, 240},
		{"1280x960, a first night: every cue in full once, a focuser not tried before", DrawOptions{Width: 1280, Height: 960, Pixel: 0.005}, false, 78, 5, 240},
		{"960x720", DrawOptions{Width: 960, Height: 720, Pixel: 0.005}, false, 90, 8, 240},
	} {
		rs, err := RunAll(5001, count, Options{Draw: c.draw, Holds: c.holds})
		if err != nil {
			t.Fatal(err)
		}
		s := Summarise(rs)
		if s.False > 0 {
			for _, r := range rs {
				if r.False {
					t.Errorf("%s: seed %d: aligned is claimed %.2f tolerances off", c.name, r.Seed, r.Error)
				}
			}
		}
		if s.Aligned+s.Air < count-max(1, count/50) || s.Air > max(1, count/20) {
			t.Errorf("%s: %d aligned, %d as good as the air allows of %d", c.name, s.Aligned, s.Air, count)
		}
		if count == many && (s.Seconds.P50 > c.seconds || s.Turns.P50 > c.turns || s.Seconds.P95 > c.late) {
			t.Errorf("%s: seconds %+v, turn cues %+v", c.name, s.Seconds, s.Turns)
		}
	}
}

// The same night is the same to the letter.
func TestNightRepeats(t *testing.T) {
	a, err := Run(7, Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	b, err := Run(7, Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(a.Said, b.Said) {
		t.Error("two runs of one night differ")
	}
}

// A focuser that never gets to the other side, and hands that make no mistakes:
// the claim stands on two defocuses of one side, or is not made. A racking into focus
// and back out may pass for one that went through; then nothing is claimed at all.
func TestOneSidedNights(t *testing.T)      { oneSidedNights(t, few) }
func TestProveOneSidedNights(t *testing.T) { oneSidedNights(t, many) }

func oneSidedNights(t *testing.T, count int) {
	ended := 0
	for seed := uint64(1); seed <= uint64(count/3); seed++ {
		r, err := Run(seed, Options{OneSided: true, Draw: DrawOptions{Width: 1280, Height: 960, Pixel: 0.005, NoLocks: true, Skill: &telescope.Deft}}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if r.False {
			t.Errorf("seed %d: aligned is claimed %.2f tolerances off", seed, r.Error)
		}
		if r.Result == cue.Aligned || r.Result == cue.AirLimit {
			ended++
		}
	}
	if least := count/3 - max(1, count/20); ended < least { // of 240 other nights 12 did not
		t.Errorf("%d nights ended, of which at least %d should", ended, least)
	}
}

// A lock whose release was not heard holds its knob. It is named again, and the
// night ends as true as any.
func TestMissedLock(t *testing.T)      { missedLock(t, few) }
func TestProveMissedLock(t *testing.T) { missedLock(t, many) }

func missedLock(t *testing.T, count int) {
	for seed := uint64(1); seed <= uint64(count/3); seed++ {
		missed := map[string]bool{}
		r, err := Run(seed, Options{
			Draw:   DrawOptions{Width: 1280, Height: 960, Pixel: 0.005},
			Change: func(n *telescope.Night) { n.Cell.Locks = true },
			Misses: func(c cue.Cue) bool {
				first := c.Action == cue.Lock && c.Direction == cue.Release && !missed[c.Knob]
				missed[c.Knob] = missed[c.Knob] || first
				return first
			},
		}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if r.Error > 1 || r.Result != cue.Aligned && r.Result != cue.AirLimit {
			t.Errorf("seed %d: ended %q, %.2f tolerances off, after %.0f s", seed, r.Result, r.Error, r.Seconds)
		}
	}
}

// One cue in six goes unheard in the wind. The night takes longer, and ends true.
func TestCuesUnheard(t *testing.T)      { cuesUnheard(t, few) }
func TestProveCuesUnheard(t *testing.T) { cuesUnheard(t, many) }

func cuesUnheard(t *testing.T, count int) {
	for seed := uint64(1); seed <= uint64(count); seed++ {
		wind := rand.New(rand.NewPCG(seed, 6))
		r, err := Run(seed, Options{
			Draw:   DrawOptions{Width: 1280, Height: 960, Pixel: 0.005},
			Misses: func(cue.Cue) bool { return wind.IntN(6) == 0 },
		}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if r.Result != cue.Aligned && r.Result != cue.AirLimit || r.Error > 1 {
			t.Errorf("seed %d: ended %q, %.2f tolerances off, after %.0f s", seed, r.Result, r.Error, r.Seconds)
		}
	}
}

// Air so bad that the tolerance drowns in it: the coach ends of itself, says as
// good as the air allows or that it gives up, or is right. How good it says that
// it is, its bound, holds.
func TestAirTooBad(t *testing.T)      { airTooBad(t, few/6) }
func TestProveAirTooBad(t *testing.T) { airTooBad(t, many/5) }

func airTooBad(t *testing.T, count int) {
	air := 0
	for seed := uint64(4); seed < uint64(4+count); seed++ {
		r, err := Run(seed, Options{Change: func(n *telescope.Night) { n.Sky.Seeing = 30; n.Sky.Slow = 0.7 },
			Draw: DrawOptions{Width: 1280, Height: 960, Pixel: 0.005, Tracked: true}}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if r.False || r.Result == "" || r.Result == cue.AirLimit && r.Error > told(r, "bound") {
			t.Errorf("seed %d: %q, %.2f tolerances off", seed, r.Result, r.Error)
		}
		if r.Result == cue.AirLimit {
			air++
		}
	}
	if air == 0 && count > few {
		t.Error("air of 30 arcsec never stood in the way: this test shows nothing")
	}
}

// Doubt about the side of focus is not put down to the air. In this night two accounts
// that lie two tolerances apart on either side of the target agree with all that a
// longer look on one side shows.
func TestDoubtIsNotAir(t *testing.T) {
	r, err := Run(61775, Options{Draw: small, Person: Mixed}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if r.Result != cue.Aligned || r.Error > 1 {
		t.Errorf("%q with a bound of %.1f tolerances, truly %.2f off", r.Result, told(r, "bound"), r.Error)
	}
}

// A current in the tube displaces the shadow by a tolerance along each axis, over a minute
// and a half: in one frame that is no different from a mirror that is not true. Of such nights two in
// five ended in a false claim when only neighbouring frames were compared; now it is
// one in eight at the most.
func TestSlowAirIsNoticed(t *testing.T)      { slowAirIsNoticed(t, few/2) }
func TestProveSlowAirIsNoticed(t *testing.T) { slowAirIsNoticed(t, many) }

func slowAirIsNoticed(t *testing.T, count int) {
	untrue, blamed := 0, 0
	rs, err := RunAll(96001, count, Options{Draw: small, Person: "practised", Change: func(n *telescope.Night) {
		n.Sky.Current, n.Sky.CurrentTau = n.Telescope.Tolerance(), 90
	}})
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rs {
		if r.False {
			untrue++
		}
		if r.Result != cue.Aligned {
			blamed++
		}
	}
	if t.Logf("%d nights: %d false, %d not aligned", count, untrue, blamed); blamed == 0 || count == many && (untrue > count/8 || blamed < count/2) {
		t.Errorf("of %d nights %d end in a false claim and %d in none", count, untrue, blamed)
	}
}

// told is a number in the last cue of a night.
func told(r Result, name string) float64 {
	v, _ := r.Said[len(r.Said)-1].Args[name].(float64)
	return v
}

// A night that is taken back in the middle mostly ends near where it began: the
// hands are rough, nothing but the star says how far a knob went home, and there
// is no target to trim to. Four nights in five come within 0.3 tolerances.
func TestPutBack(t *testing.T)      { putBack(t, few) }
func TestProvePutBack(t *testing.T) { putBack(t, many) }

func putBack(t *testing.T, count int) {
	tried, near := 0, 0
	for seed := uint64(1); seed <= uint64(count); seed++ {
		r, err := Run(seed, Options{Draw: DrawOptions{Width: 1280, Height: 960, Pixel: 0.005, NoLocks: true, Skill: &telescope.Deft}, Asks: []Ask{{35, command.Undo}}, Limit: 200}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if r.Turns == 0 {
			continue // it was true before anything was turned
		}
		if tried++; r.Back <= 0.3 {
			near++
		}
	}
	if t.Logf("%d of %d nights came back", near, tried); float64(near) < 0.7*float64(tried) {
		t.Errorf("only %d of %d nights came back to within 0.3 tolerances", near, tried)
	}
}

func BenchmarkNight(b *testing.B) {
	words, err := newSpeech()
	if err != nil {
		b.Fatal(err)
	}
	frames := 0
	for i := range b.N {
		_, err := Run(uint64(i%20)+1, Options{Words: &words}, func(observe.Sight, telescope.Truth, cue.Advice) { frames++ })
		if err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(frames), "ns/frame")
}
