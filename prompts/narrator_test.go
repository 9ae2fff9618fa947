package prompts

import (
	"fmt"
	"strings"
	"testing"
)

// ear plays a night: a clip lasts a second for each ten letters, at ten frames
// a second, and what is heard is written down as "t text", cut as "t -".
type ear struct {
	t     *testing.T
	n     *Narrator
	until float64
	heard []string
}

func newEar(t *testing.T) *ear { return &ear{t: t, n: NewNarrator(english(t, Normal)), until: -1} }

func (e *ear) add(now float64, cues ...Cue) {
	e.t.Helper()
	if err := e.n.Add(now, cues...); err != nil {
		e.t.Fatal(err)
	}
}

func (e *ear) set(now float64, code string, on bool) {
	e.t.Helper()
	if err := e.n.Set(now, Cue{Code: code}, on); err != nil {
		e.t.Fatal(err)
	}
}

// step is one frame; the clip's length is that of its text.
func (e *ear) step(now float64) {
	d := e.n.Step(now, now < e.until-1e-9)
	if d.Cut {
		e.heard = append(e.heard, fmt.Sprintf("%.1f -", now))
		e.until = now
	}
	if d.Start != nil {
		e.heard = append(e.heard, fmt.Sprintf("%.1f %s", now, d.Start.Text))
		e.until = now + float64(len(d.Start.Text))/10
	}
	for _, x := range d.Dropped {
		e.heard = append(e.heard, fmt.Sprintf("%.1f (%s: %s)", now, x.Cue.Code, x.Why))
	}
}

func (e *ear) run(from, to float64) {
	for i := int(from*10 + 0.5); i < int(to*10+0.5); i++ {
		e.step(float64(i) / 10)
	}
}

func (e *ear) check(want ...string) {
	e.t.Helper()
	if got := strings.Join(e.heard, "\n"); got != strings.Join(want, "\n") {
		e.t.Errorf("heard:\n%s\nwant:\n%s", got, strings.Join(want, "\n"))
	}
}

func turn(knob string) Cue {
	return Cue{Code: "turn", Knob: knob, Direction: "tighten", Turns: 0.06}
}

func TestOneAtATimeWithAGap(t *testing.T) {
	e := newEar(t)
	e.add(0, Cue{Code: "undone"}, Cue{Code: "centred"})
	e.run(0, 4)
	e.check("0.0 Undone.", "0.9 Centred.")
}

func TestStopInterruptsAtOnce(t *testing.T) {
	e := newEar(t)
	e.add(0, turn("top"))
	e.run(0, 1)
	e.add(1, Cue{Code: "stop"})
	e.run(1, 3)
	e.check("0.0 Top knob, tighten slightly.", "1.0 -", "1.0 Stop.")
}

func TestNewInstructionReplacesOld(t *testing.T) {
	e := newEar(t)
	e.add(0, Cue{Code: "measuring"}) // 2.2 s, is heard out
	e.run(0, 0.5)
	e.add(0.5, turn("top"))
	e.run(0.5, 1)
	e.add(1, turn("left-hand"))
	e.run(1, 3)
	e.add(3, Cue{Code: "recentre"})
	e.run(3, 10)
	e.check("0.0 Measuring. Hands off.", "1.0 (turn: replaced by turn)",
		"2.3 Left-hand knob, tighten slightly.", "3.0 -",
		"3.2 Push the tube: star to the middle.")
}

func TestPrefaceComesFirstAndGoesWithItsInstruction(t *testing.T) {
	e := newEar(t)
	e.add(0, Cue{Code: "lock-pulls"}, turn("top"))
	e.run(0, 6)
	e.check("0.0 A lock pulls the mirror.", "2.6 Top knob, tighten slightly.")

	e = newEar(t)
	e.add(0, Cue{Code: "measuring"})
	e.run(0, 0.1)
	e.add(0.1, Cue{Code: "lock-pulls"}, turn("top"))
	e.add(0.2, Cue{Code: "paused"})
	e.run(0.2, 6)
	e.check("0.0 Measuring. Hands off.", "0.2 (lock-pulls: replaced by paused)",
		"0.2 (turn: replaced by paused)", "2.3 I wait. Say “okay halo, carry on”, or press.")
}

func TestStopThenTurn(t *testing.T) {
	e := newEar(t)
	e.add(0, Cue{Code: "stop"}, turn("top"))
	e.run(0, 5)
	e.check("0.0 Stop.", "0.7 Top knob, tighten slightly.")
}

func TestStaleIsNotSaid(t *testing.T) {
	e := newEar(t)
	e.add(0, Cue{Code: "cautions"}) // longer than a turn stays true
	e.run(0, 0.1)
	e.add(0.1, turn("top"))
	e.run(0.1, 20)
	e.check("0.0 "+mustText(t, "cautions"), "3.2 (turn: waited too long)")
}

func mustText(t *testing.T, code string) string {
	t.Helper()
	text, _, err := english(t, Normal).Text(Cue{Code: code})
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func TestConditionThatClearsInTimeIsNotHeard(t *testing.T) {
	e := newEar(t)
	e.set(0, "camera-stalled", true)
	e.run(0, 1.9)
	e.set(1.9, "camera-stalled", false)
	e.run(1.9, 5)
	e.check()
}

func TestConditionIsHeardOnceThenAgain(t *testing.T) {
	e := newEar(t)
	for i := range 400 { // reported with every frame, as a guide would
		e.set(float64(i)/10, "camera-stalled", true)
		e.step(float64(i) / 10)
	}
	stalled := mustText(t, "camera-stalled")
	e.check("2.0 "+stalled, "32.0 "+stalled)
}

func TestConditionSilences(t *testing.T) {
	e := newEar(t)
	e.set(0, "camera-lost", true)
	e.run(0, 1)
	e.set(1, "camera-stalled", true)
	e.add(1, turn("top"))
	e.run(1, 8)
	e.set(8, "camera-lost", false)
	e.run(8, 10)
	e.check("0.0 Camera lost. Hands off. Check its cable.",
		"1.0 (turn: silenced by camera-lost)", "8.0 "+mustText(t, "camera-stalled"))
}

func TestDangerFirst(t *testing.T) {
	e := newEar(t)
	e.add(0, Cue{Code: "stop"})
	e.run(0, 0.1)
	e.add(0.1, Cue{Code: "stop"}, turn("top"), Cue{Code: "too-bright"})
	e.run(0.1, 9)
	e.check("0.0 Stop.", "0.1 -", "0.1 "+mustText(t, "too-bright"),
		"0.1 (stop: being said)", "0.1 (turn: replaced by too-bright)")
}

func TestRepeatIsExact(t *testing.T) {
	e := newEar(t)
	if err := e.n.Repeat(0); err != nil {
		t.Fatal(err)
	}
	e.run(0, 4)
	e.add(4, turn("top"))
	e.run(4, 8)
	e.add(8, Cue{Code: "louder"}) // an acknowledgement is not what "again" means
	e.run(8, 10)
	if err := e.n.Repeat(10); err != nil {
		t.Fatal(err)
	}
	e.run(10, 14)
	e.check("0.0 Nothing to repeat yet.", "4.0 Top knob, tighten slightly.", "8.0 Louder.",
		"10.0 Top knob, tighten slightly.")
}

func TestRepeatNeverBringsBackAnOldInstruction(t *testing.T) {
	e := newEar(t)
	e.add(0, turn("top"))
	e.run(0, 4)
	e.add(4, turn("left-hand"))
	if err := e.n.Repeat(4); err != nil {
		t.Fatal(err)
	}
	e.run(4, 10)
	e.check("0.0 Top knob, tighten slightly.", "4.0 Left-hand knob, tighten slightly.",
		"4.0 (turn: a newer one follows)")
}

func TestAddTakesTheRestWhenOneHasNoWords(t *testing.T) {
	e := newEar(t)
	if err := e.n.Add(0, Cue{Code: "nonsense"}, turn("top")); err == nil {
		t.Error("no error for a code without words")
	}
	e.run(0, 1)
	e.check("0.0 Top knob, tighten slightly.")
}

// A flood of cues of every kind, for ten minutes of night: never two at once,
// nothing left over, and the same night twice sounds the same.
func TestFloodIsOrderlyAndRepeatable(t *testing.T) {
	play := func() []string {
		e := newEar(t)
		codes := Codes()
		for i := range 6000 {
			now := float64(i) / 10
			entry := catalogue[codes[i*7919%len(codes)]]
			variant := ""
			if len(entry.Variants) > 0 {
				variant = entry.Variants[i%len(entry.Variants)]
			}
			if i%5 == 0 && entry.Class <= Warn {
				if err := e.n.Set(now, example(entry, variant), i%2 == 0); err != nil {
					t.Fatal(err)
				}
			}
			if i%3 == 0 {
				e.add(now, example(entry, variant))
			}
			if i%97 == 0 {
				if err := e.n.Repeat(now); err != nil {
					t.Fatal(err)
				}
			}
			e.step(now)
			if len(e.n.queue) > len(codes) {
				t.Fatalf("%.1f: %d cues wait", now, len(e.n.queue))
			}
		}
		for _, code := range codes {
			delete(e.n.conditions, code)
		}
		e.run(600, 760)
		if !e.n.Idle() {
			t.Error("something is left over")
		}
		return e.heard
	}
	a, b := play(), play()
	if strings.Join(a, "\n") != strings.Join(b, "\n") {
		t.Error("the same night sounded differently")
	}
	if len(a) < 100 {
		t.Errorf("only %d events: the test is asleep", len(a))
	}
}

// An instruction cuts explanations short, but not the one that it came with.
func TestOwnPrefaceIsHeardOut(t *testing.T) {
	e := newEar(t)
	e.add(0, Cue{Code: "lesson", Direction: "later"}, turn("top"))
	e.run(0, 5)
	e.add(5, Cue{Code: "lesson", Direction: "later"})
	e.run(5, 6)
	e.add(6, turn("top"))
	e.run(6, 10)
	e.check("0.0 Now we begin.", "1.5 Top knob, tighten slightly.",
		"5.0 Now we begin.", "6.0 -", "6.2 Top knob, tighten slightly.")
}

func TestQuiet(t *testing.T) {
	e := newEar(t)
	e.add(0, Cue{Code: "centred"})
	e.run(0, 2)
	e.add(2, Cue{Code: "centred"})
	e.run(2, 4)
	e.add(4, Cue{Code: "centred"})
	e.run(4, 5)
	e.check("0.0 Centred.", "2.0 (centred: said a moment ago)", "4.0 Centred.")
}

// A condition is said once it has lasted for its time, whenever it began: a stalled camera
// after two seconds.
func TestConditionMustLast(t *testing.T) {
	for _, began := range []float64{0, 100} {
		e := newEar(t)
		e.set(began, "camera-stalled", true)
		for _, c := range []struct {
			after float64
			said  int
		}{{0.1, 0}, {1.9, 0}, {2.1, 1}} {
			if e.step(began + c.after); len(e.heard) != c.said {
				t.Errorf("began at %g s, after %g s: heard %v", began, c.after, e.heard)
			}
		}
	}
}

// Idle is neither while something is said nor while something waits.
func TestIdle(t *testing.T) {
	e := newEar(t)
	if !e.n.Idle() {
		t.Error("not idle at the start")
	}
	if e.add(0, turn("top")); e.n.Idle() {
		t.Error("idle while something waits")
	}
	if e.step(0.1); e.n.Idle() {
		t.Error("idle while something is said")
	}
	if e.run(0.2, 20); !e.n.Idle() {
		t.Error("not idle when all is said")
	}
}

// Nobody need choose how many words a cue is given: it is the normal number.
func TestZeroVerbosityIsNormal(t *testing.T) {
	var v Verbosity
	if v != Normal || !(Brief < Normal && Normal < Full) {
		t.Errorf("zero is %d, normal %d", v, Normal)
	}
}
