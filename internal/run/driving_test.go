package run

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio/command"
	"halocue/internal/cue"
	"halocue/internal/platform/drive"
	"halocue/internal/simulate/nights"
	"halocue/vision/frame"
)

// motorised is a virtual telescope with a mount and a focuser, which move with the
// frames. A nudge takes the star at 73 um/s (sidereal rate at f = 1000 mm).
type motorised struct {
	*dream
	per    [2]r2.Vec // mm/s
	pulse  [2]float64
	at, to float64 // steps of 5 um
	said   bool    // an instruction is out that announces a move
	early  int     // frames in which something moved unannounced
}

func newMotorised(seed uint64) *motorised {
	s, c := math.Sincos(float64(seed))
	m := &motorised{dream: dreamOf(nights.Draw(seed, nights.DrawOptions{Tracked: true})), at: 30_000, to: 30_000}
	m.per = [2]r2.Vec{{X: 0.073 * c, Y: 0.073 * s}, {X: 0.073 * s, Y: -0.073 * c}}
	return m
}

func (m *motorised) Next(ctx context.Context) (*frame.Frame, error) {
	dt := 1 / m.fps
	for i, p := range m.pulse {
		did := math.Copysign(math.Min(dt, math.Abs(p)), p)
		m.pulse[i] -= did
		m.tel.Push(r2.Scale(did, m.per[i]))
	}
	did := math.Copysign(math.Min(400*dt, math.Abs(m.to-m.at)), m.to-m.at)
	m.at += did
	m.tel.Rack(did * 0.005)
	if m.busy() && !m.said {
		m.early++
	}
	return m.dream.Next(ctx)
}

func (m *motorised) busy() bool { return m.pulse != [2]float64{} || m.at != m.to }

// hear is what the hands hear, and what is known to have been announced.
func (m *motorised) hear(in cue.Instruction) {
	m.said = in.Action == "wait"
	m.dream.hear(in)
}

type mountOf struct{ *motorised }

func (m mountOf) Nudge(p [2]float64) error { m.pulse = p; return nil }
func (m mountOf) Busy() (bool, error)      { return m.pulse != [2]float64{}, nil }
func (m mountOf) Stop() error              { m.pulse = [2]float64{}; return nil }

type focuserOf struct{ *motorised }

func (f focuserOf) Move(steps float64) error         { f.to = f.at + steps; return nil }
func (f focuserOf) Busy() (bool, error)              { return f.at != f.to, nil }
func (f focuserOf) Stop() error                      { f.to = f.at; return nil }
func (f focuserOf) Place() (at, least, most float64) { return f.at, 0, 60_000 }

// says counts what the transcript asks of the hands, but for a star that a knob has
// taken out of sight, and what the drive did.
func says(t *testing.T, transcript string) (asked, turned int, drove map[string]int) {
	t.Helper()
	drove = map[string]int{}
	for line := range strings.Lines(transcript) {
		var e struct{ Event, Action, Code, Device, State string }
		if err := json.Unmarshal([]byte(line), &e); err != nil {
			t.Fatal(err)
		}
		switch {
		case e.Device == "drive":
			drove[e.State]++
		case e.Action == "turn":
			turned++
		case e.Code == "star-lost", e.Code == "find-star":
		case e.Action == "recentre", e.Action == "defocus", e.Action == "other-side":
			asked++
		}
	}
	return asked, turned, drove
}

// With a mount and a focuser the person touches nothing but knobs: in a night
// without a doubt nobody is asked to push the tube or to rack; nothing moves
// unannounced, and what is claimed is true. Wind, knocks and wrong knobs are in
// these nights: doubts are few.
func TestMotorsDoTheRest(t *testing.T) {
	const nights = 12
	doubtful, drove, turned, claimed := 0, 0, 0, 0
	for seed := uint64(1); seed <= nights; seed++ {
		m := newMotorised(seed)
		var out bytes.Buffer
		p := parts(t, m.dream, &out)
		p.Source, p.Hands = m, m.hear
		p.Drive = drive.New(mountOf{m}, focuserOf{m}, drive.Limits{})
		got, err := Frames(context.Background(), p, m.fps)
		if err != nil {
			t.Fatal(err)
		}
		off := r2.Norm(m.tel.Truth().Axis) / m.tel.Night().Telescope.Tolerance()
		asked, turns, did := says(t, out.String())
		t.Logf("seed %d: %s, %.2f tolerances off, asked %d times, %d turns, drive %v", seed, got.Result, off, asked, turns, did)
		if got.Result == cue.Aligned && off > 1 {
			t.Errorf("seed %d: claims %s at %.2f tolerances", seed, got.Result, off)
		}
		if m.early > 0 {
			t.Errorf("seed %d: in %d frames a motor moved unannounced", seed, m.early)
		}
		if m.busy() {
			t.Errorf("seed %d: a motor moves when the night is over", seed)
		}
		if did["stopped"] == 0 && asked > 0 {
			t.Errorf("seed %d: the hands were asked %d times without need", seed, asked)
		}
		if did["stopped"] > 0 {
			doubtful++
		}
		if got.Result != cue.GivenUp {
			claimed++
		}
		drove += did["arrived"]
		turned += turns
	}
	if doubtful > nights/3 || claimed < nights-1 || drove < 2*nights || turned < 2*nights {
		t.Errorf("of %d nights %d with doubts, %d claimed; driven %d times, turned %d times", nights, doubtful, claimed, drove, turned)
	}
}

// What the person says stops a motor that moves: in that frame, and without blame.
// So does a camera that goes blind to what moves.
func TestMotorsObey(t *testing.T) {
	for name, end := range map[string]func(m *motorised, commands chan<- command.Command){
		"wait":   func(_ *motorised, c chan<- command.Command) { c <- command.Wait },
		"stream": func(m *motorised, _ chan<- command.Command) { m.limit = 0 },
	} {
		m := newMotorised(2)
		var out bytes.Buffer
		p := parts(t, m.dream, &out)
		commands := make(chan command.Command, 1)
		p.Commands, p.Hands = commands, m.hear
		ended := 0
		p.Source = meddler{m, func() {
			if m.busy() && ended == 0 {
				end(m, commands)
				ended = m.count
			}
			if ended > 0 && m.count > ended+1 && m.busy() {
				t.Fatalf("%s: still moving", name)
			}
			if ended > 0 && m.count > ended+20 {
				m.limit = 0
			}
		}}
		p.Drive = drive.New(mountOf{m}, focuserOf{m}, drive.Limits{})
		if _, err := Frames(context.Background(), p, m.fps); err != nil {
			t.Fatal(err)
		}
		if ended == 0 || m.busy() || !strings.Contains(out.String(), `"stopped","detail":"it was told to stop"`) || strings.Contains(out.String(), "drive-stopped") {
			t.Errorf("%s: ended %d, moving %v", name, ended, m.busy())
		}
	}
}

// meddler does something before each frame.
type meddler struct {
	*motorised
	each func()
}

func (s meddler) Next(ctx context.Context) (*frame.Frame, error) {
	s.each()
	return s.motorised.Next(ctx)
}
