package session

import (
	"context"
	"strings"
	"testing"
	"time"

	"golang.org/x/text/language"

	"halocue/audio"
	"halocue/audio/command"
	"halocue/config"
	"halocue/internal/run/aloud"
	"halocue/internal/run/parts"
	"halocue/prompts"
	"halocue/prompts/voice"
	"halocue/vision/frame"
)

// pupil is a sink that hears everything, and presses when a text is said.
type pupil struct {
	mixer  *audio.Mixer
	tones  []audio.Tone // that sounded, in order
	loud   int          // steps in which something was heard beside the tone
	passed float64
}

func (p *pupil) Advance(seconds float64) error {
	p.passed += seconds
	if t := p.mixer.Tone(); len(p.tones) == 0 || p.tones[len(p.tones)-1].State != t.State {
		p.tones = append(p.tones, t)
	}
	buf := make([][2]float64, int(seconds*audio.Rate))
	p.mixer.Stream(buf)
	if p.mixer.Tone().State == audio.Off && buf[len(buf)/2][0] != 0 {
		p.loud++
	}
	return nil
}

func (p *pupil) Delay() float64 { return 0 }
func (p *pupil) Close() error   { return nil }

// lessonFor gives the lesson to somebody who answers texts with commands.
func lessonFor(t *testing.T, answers map[string][]command.Command) (*pupil, []string) {
	t.Helper()
	phrases, err := prompts.New(language.English, prompts.Normal)
	if err != nil {
		t.Fatal(err)
	}
	mixer := audio.NewMixer(audio.Settings{})
	p, commands := &pupil{mixer: mixer}, make(chan command.Command, 16)
	var said []string
	l := firstLesson{aloud.With(mixer, p, voice.Silent{WPM: 160}), phrases, commands, func(text string) {
		said = append(said, text)
		for start, all := range answers {
			if strings.HasPrefix(text, start) {
				for _, c := range all {
					commands <- command.Command(c)
				}
				delete(answers, start)
			}
		}
	}}
	if err := l.give(context.Background()); err != nil {
		t.Fatal(err)
	}
	return p, said
}

// Who does nothing hears every sound in about a minute, and is let go.
func TestLessonNeedsNoAnswer(t *testing.T) {
	p, said := lessonFor(t, nil)
	if len(said) != len(lessonSounds)+2 || said[len(said)-1] != "Now we begin." {
		t.Errorf("said %q", said)
	}
	if p.passed < 40 || p.passed > 75 {
		t.Errorf("it took %.0f s", p.passed)
	}
	heard := map[audio.State]bool{}
	for _, tone := range p.tones {
		heard[tone.State] = true
	}
	if !heard[audio.Trim] || !heard[audio.Inside] || !heard[audio.Stop] || p.loud < 5 {
		t.Errorf("tones %v, signals in %d tenths", p.tones, p.loud)
	}
}

// Presses go on, go back, and bring the tone to its goal.
func TestLessonIsTriedOut(t *testing.T) {
	press := command.GoOn
	p, said := lessonFor(t, map[string][]command.Command{
		"First": {press}, "Low": {command.Repeat}, "Now you": {press, press, press, press},
	})
	if got := strings.Join(said, " "); strings.Count(got, "Low and slow") != 2 || !strings.HasSuffix(got, "Well done. Now we begin.") {
		t.Errorf("said %q", said)
	}
	if last := p.tones[len(p.tones)-2]; last.State != audio.Inside {
		t.Errorf("the last tone was %+v", last)
	}
}

// A long press ends it.
func TestLessonIsLeft(t *testing.T) {
	p, said := lessonFor(t, map[string][]command.Command{"Low": {command.Wait}})
	if len(said) != 3 || p.passed > 15 {
		t.Errorf("said %q in %.0f s", said, p.passed)
	}
}

// A lesson takes no frame from a night that would run out of them.
func TestLessonOnlyWhereTheCameraWaits(t *testing.T) {
	for source, want := range map[string]bool{
		"0": true, "/dev/null": true, "http://localhost/stream": true, "v4l2src ! appsink": true,
		"-": false, t.TempDir(): false, "lesson_test.go": false,
	} {
		if got := waits(source); got != want {
			t.Errorf("%s: %t, want %t", source, got, want)
		}
	}
}

// glares is a source of frames of one brightness each, which then falls silent.
type glares []float32

func (s *glares) Next(ctx context.Context) (*frame.Frame, error) {
	if len(*s) == 0 {
		<-ctx.Done()
		return nil, ctx.Err()
	}
	f := &frame.Frame{White: 255}
	f.Resize(320, 240)
	for i := range f.Pix {
		f.Pix[i] = (*s)[0]
	}
	*s = (*s)[1:]
	return f, nil
}

func (*glares) Close() error { return nil }

// A lesson is broken off for the Sun, not for a single flash, and else given whole.
func TestSunEndsTheLesson(t *testing.T) {
	c := config.Default()
	c.Telescope.ApertureMM, c.Telescope.FocalLengthMM = 200, 1000
	for name, w := range map[string]struct {
		sky glares
		sun bool
	}{"the Sun": {glares{0, 255, 0, 255, 255}, true}, "a flash": {glares{0, 255, 0}, false}, "night": {nil, false}} {
		given := false
		warn, err := underWatch(t.Context(), &w.sky, parts.Meter(c), func(ctx context.Context) ([]string, error) {
			select {
			case <-ctx.Done():
			case <-time.After(map[bool]time.Duration{true: time.Minute, false: 300 * time.Millisecond}[w.sun]):
				given = true
			}
			return nil, ctx.Err()
		})
		if err != nil || given == w.sun || (len(warn) > 0) != w.sun {
			t.Errorf("%s: given whole %t, then %q, %v", name, given, warn, err)
		}
	}
}
