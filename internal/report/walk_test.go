package report

import (
	"bytes"
	"math"
	"math/rand/v2"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/coach"
	"halocue/internal/estimate"
	"halocue/internal/optics"
)

// A 200 mm F/5 with screws of 0.8 mm pitch on a circle of 85 mm radius.
var (
	cell     = []Knob{{Name: "upper", Clock: 12}, {Name: "right-hand", Clock: 4}, {Name: "left-hand", Clock: 8}}
	english  = sync.OnceValues(func() (*words, error) { return newWords("en") })
	axisTurn = 1000 * optics.KnobTilt(1, 0.8, 85) // mm that the axis goes in a turn
)

// toward is the way of the axis, in the mirror's frame, when a knob is tightened by turns.
func toward(k int, turns float64) r2.Vec {
	sin, cos := math.Sincos(cell[k].Clock * math.Pi / 6)
	return r2.Scale(turns*axisTurn, r2.Vec{X: cos, Y: sin})
}

// nightAt is a night that found and left the axis where it is said, mm in the mirror's
// frame, with an error of sigma; the camera stood at some angle, and some are mirrored.
func nightAt(t *testing.T, random *rand.Rand, day int, found, left r2.Vec, sigma float64) *Night {
	t.Helper()
	w, err := english()
	if err != nil {
		t.Fatal(err)
	}
	m := &coach.Memory{KnobMemory: estimate.KnobMemory{Mirrored: float64(random.IntN(2)), Rotation: 6.28 * random.Float64(), RotationSD: 0.01,
		PerTurn: [3]float64{2 * axisTurn, 2 * axisTurn, 2 * axisTurn}}}
	n := &Night{ID: int64(day), Began: evening.Add(time.Duration(day) * 24 * time.Hour), Result: "aligned", ApertureMM: 200, FocalLengthMM: 1000, ToleranceMM: 1.3875,
		Turns: 1, FirstTurn: 9, turnEnds: 11, Knobs: cell, memory: m, words: w, tel: optics.Telescope{Aperture: 200, FocalLength: 1000}}
	for i, at := range []r2.Vec{found, left} {
		if m.Mirrored == 1 {
			at.Y = -at.Y
		}
		sin, cos := math.Sincos(m.Rotation)
		x := cos*at.X - sin*at.Y + sigma*random.NormFloat64()
		y := sin*at.X + cos*at.Y + sigma*random.NormFloat64()
		ratio := math.Hypot(x, y) / n.ToleranceMM
		n.Path = append(n.Path, Point{T: 8 + 90*float64(i), X: x, Y: y, Ratio: ratio, Bound: ratio + 3.7*sigma/n.ToleranceMM, Sigma: sigma, R0: 60})
	}
	return n
}

// journeys is a history in which each journey moves the axis by what way returns.
func journeys(t *testing.T, random *rand.Rand, nights int, sigma float64, way func() r2.Vec) *History {
	t.Helper()
	h := &History{ApertureMM: 200, FocalLengthMM: 1000}
	left := r2.Vec{X: 0.2, Y: -0.3}
	for day := range nights {
		found := r2.Add(left, way())
		left = r2.Vec{X: 0.3 * random.NormFloat64(), Y: 0.3 * random.NormFloat64()}
		h.add(nightAt(t, random, day+1, found, left, sigma))
	}
	return h
}

func TestTheKnobThatWalksIsNamed(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 1))
	left := func() r2.Vec { return toward(2, -0.1+0.01*random.NormFloat64()) }
	h := journeys(t, random, 5, 0.1, left)
	if v := h.Verdict(); !regexp.MustCompile(`as if the left-hand knob were loosened by 0\.(09|10|11) of a turn each time, give or take 0\.01:`).MatchString(v) {
		t.Error(v)
	}
	// The least turns that do the same: two thirds of it, and a third of it the other way on the others.
	for k, want := range []float64{0.1 / 3, 0.1 / 3, -0.2 / 3} {
		if w := h.Journeys[2].Walked[k]; math.Abs(w.Turns-want) > 4*w.Sigma+0.02 || w.Sigma > 0.03 || w.Sigma <= 0 {
			t.Errorf("knob %d: %+v, want %.3f turns", k, w, want)
		}
	}
	if v := journeys(t, random, 3, 0.1, left).Verdict(); strings.Contains(v, "as if") || !strings.Contains(v, "too few") {
		t.Error("of two journeys: " + v)
	}
	if v := journeys(t, random, 5, 0.1, func() r2.Vec { return toward(1, 0.15) }).Verdict(); !strings.Contains(v, "right-hand knob were tightened by 0.1") {
		t.Error(v)
	}
}

// Journeys of no one knob's doing name none: some by any knob, some by nothing but the errors of
// the measurement.
func TestNoKnobIsBlamedForChance(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 2))
	for name, way := range map[string]func() r2.Vec{
		"any way": func() r2.Vec { return r2.Vec{X: random.NormFloat64(), Y: random.NormFloat64()} },
		"nothing": func() r2.Vec { return r2.Vec{} },
	} {
		blamed := 0
		const histories = 400
		for range histories {
			if strings.Contains(journeys(t, random, 4, 0.15, way).Verdict(), "as if") {
				blamed++
			}
		}
		t.Logf("%s: %d of %d histories of three journeys blame a knob", name, blamed, histories)
		if blamed > histories/50 {
			t.Errorf("%s: a knob is blamed in %d of %d histories", name, blamed, histories)
		}
	}
}

// Two nights of one visit show no journey, and a night that does not know how its camera
// stood shows none of the knobs.
func TestWhatIsNoJourney(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 3))
	h := &History{}
	for i := range 3 {
		n := nightAt(t, random, 1, toward(0, 0.3), r2.Vec{}, 0.1)
		switch i {
		case 1:
			n.Began = n.Began.Add(time.Hour)
		case 2:
			n.Began = n.Began.Add(48 * time.Hour)
			n.memory.Mirrored = 0.6
		}
		h.add(n)
	}
	if j := h.Journeys[1]; j.Drifted != nil || j.Walked != nil {
		t.Errorf("the same visit: %+v", j)
	}
	if j := h.Journeys[2]; j.Drifted == nil || j.Walked != nil {
		t.Errorf("an unknown camera: %+v", j)
	}
}

// The shares together make the journey, wherever the knobs stand, and they are the least
// turns that do.
func TestSharesMakeTheJourney(t *testing.T) {
	w := &walk{way: r2.Vec{X: 0.7, Y: -0.4}, sigma: 0.1, turn: [3]r2.Vec{{X: 6}, {X: -2, Y: 5}, {X: -3, Y: -1}}}
	var sum r2.Vec
	turns := [3]float64{}
	for k, s := range w.shares(cell) {
		sum = r2.Add(sum, r2.Scale(s.Turns, w.turn[k]))
		turns[k] = s.Turns
	}
	if r2.Norm(r2.Sub(sum, w.way)) > 1e-12 {
		t.Errorf("the shares go %v, not %v", sum, w.way)
	}
	// The turns that move nothing, by the cross product of the rows; the least are at right angles to them.
	a, b, c := w.turn[0], w.turn[1], w.turn[2]
	still := [3]float64{b.X*c.Y - c.X*b.Y, c.X*a.Y - a.X*c.Y, a.X*b.Y - b.X*a.Y}
	if dot := still[0]*turns[0] + still[1]*turns[1] + still[2]*turns[2]; math.Abs(dot) > 1e-9 {
		t.Errorf("%v is not the least: %g", turns, dot)
	}
}

// The page of the history has its three drawings with what they show in words, and a row
// for each night.
func TestHistoryPage(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 1))
	h := journeys(t, random, 4, 0.1, func() r2.Vec { return toward(2, -0.1) })
	day := nightAt(t, random, 9, r2.Vec{X: 3}, r2.Vec{X: 1}, 0.1)
	day.Kind, day.Result = "indoors", "rough"
	h.add(day)
	// The seeing of r0 = 60 mm at 550 nm is 0.98 lambda / r0 = 1.85 arcsec (Fried 1966; from memory).
	if s := h.Journeys[0].Seeing; math.Abs(s-1.853) > 0.002 {
		t.Errorf("seeing %.3f", s)
	}
	var b bytes.Buffer
	if err := WriteHistoryPage(&b, []*History{h}, Look{Red: true}, "test"); err != nil {
		t.Fatal(err)
	}
	page := b.String()
	for want, times := range map[string]int{
		"<svg ": 3, "<tr>": 6, `class="red"`: 1, "What each journey did": 2, ">left-hand knob<": 2, "roughly true by day": 4, "\u22120.0": 3,
		"<td>1.9</td>": 5, ">night<": 4,
	} {
		if got := strings.Count(page, want); got < times || want == "<svg " && got != times {
			t.Errorf("%q stands there %d times, want %d", want, got, times)
		}
	}
	if err := WriteHistoryPage(&b, nil, Look{}, "test"); err != nil {
		t.Error(err)
	}
}
