package setup

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"testing"

	"halocue/config"
)

// script answers from a list, and keeps what was said.
type script struct {
	answers []string
	said    []string
}

func (s *script) Say(_ context.Context, sentence string) error {
	s.said = append(s.said, sentence)
	return nil
}

func (s *script) Answer(context.Context) (string, error) {
	if len(s.answers) == 0 {
		return "", io.EOF
	}
	line := s.answers[0]
	s.answers = s.answers[1:]
	s.said = append(s.said, "> "+line)
	return line, nil
}

// run is a set-up from the built-in settings with these answers.
func run(t *testing.T, answers ...string) (config.Config, []string) {
	t.Helper()
	s := &script{answers: answers}
	c, err := Run(context.Background(), s, Start{Config: config.Default()})
	if err != nil {
		t.Fatalf("%v after\n%s", err, strings.Join(s.said, "\n"))
	}
	return c, s.said
}

// The conversation of a newcomer, with slips and corrections, is in docs/setup.md:
// its lines that begin with ">" are the answers, and all the rest is what is said.
func TestNewcomer(t *testing.T) {
	doc, err := os.ReadFile("../../docs/setup.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(doc), "```text\n")
	want, _, ok := strings.Cut(rest, "\n```")
	if !ok {
		t.Fatal("docs/setup.md has no transcript")
	}
	var answers []string
	for _, line := range strings.Split(want, "\n") {
		if a, ok := strings.CutPrefix(line, "> "); ok {
			answers = append(answers, a)
		}
	}
	s := &script{answers: answers}
	c, err := Run(context.Background(), s, Start{Config: config.Default()})
	if err != nil {
		t.Errorf("set-up ended with %v", err)
	}
	if got := strings.Join(s.said, "\n"); got != want {
		t.Errorf("docs/setup.md has another transcript than this:\n%s", got)
	}
	w := config.Default()
	w.Telescope.ApertureMM, w.Telescope.FocalLengthMM = 203, 1218
	w.MirrorCell.ScrewPitchMM = 0.7
	w.MirrorCell.Knobs = []config.Knob{{Name: "one bump", Clock: 8}, {Name: "two bumps", Clock: 4}, {Name: "upper", Clock: 12}}
	w.Sound.DelayMS, w.Voice.SpeedWPM, w.Coach.WalkSteps = 180, 120, 6
	w.Site.LatitudeDeg, w.Site.LongitudeDeg = 51.5, -0.1
	text, err := tomlOf(w)
	if got, _ := tomlOf(c); err != nil || got != text {
		t.Errorf("the newcomer has the settings\n%s\nwant\n%s", got, text)
	}
	if !strings.Contains(string(doc), text) {
		t.Errorf("docs/setup.md does not show the file:\n%s", text)
	}
}

// skips answer so many questions, to come to the next one.
func skips(n int) []string { return slices.Repeat([]string{"skip"}, n) }

func TestEverythingCanBeSkipped(t *testing.T) {
	c, said := run(t, append(skips(21), "yes")...)
	want, err := tomlOf(config.Default())
	if got, _ := tomlOf(c); err != nil || got != want {
		t.Errorf("after skipping everything, the settings are\n%s\nwant the built-in ones\n%s", got, want)
	}
	if len(Closing(c, "x", "", true)) != 4 || said[len(said)-1] != "> yes" {
		t.Error("nothing is said of the two numbers that are needed")
	}
}

// Each line is a conversation from the first question, and what must be said in it.
func TestSlips(t *testing.T) {
	for name, c := range map[string]struct {
		answers []string
		said    string
	}{
		"unit forgotten":       {[]string{"skip", "8"}, "The aperture cannot be 8 millimetres; say 8 inches, if you mean inches."},
		"too small":            {[]string{"skip", "0"}, "The aperture cannot be 0; say 30 to 2000 millimetres."},
		"comma":                {[]string{"skip", "1,200"}, "1,200 can be read in two ways; say it without the comma."},
		"back from nowhere":    {[]string{"back"}, "This is the first question."},
		"focal ratio too long": {[]string{"skip", "200", "10000"}, "That is a focal ratio of 50, and 2 to 20 is right; say the focal length again, or back for the aperture."},
		"ratio of nothing":     {[]string{"skip", "skip", "f/5"}, "A focal ratio needs the aperture; say back to give it, or the focal length in millimetres."},
		"maybe":                {append(skips(3), "perhaps"), "Say yes or no."},
		"corrector":            {append(skips(4), "yes"), "Question 6 of 22, the last about the telescope. Take it out first: is it out now?"},
		"pixel":                {append(skips(6), "3750"), "A pixel cannot be 3750; say 0.5 to 50 micrometres."},
		"thread":               {append(skips(8), "M99"), `I do not know the thread "M99"; say M3 to M8, or the pitch in millimetres.`},
		"same place":           {append(skips(10), "4", "skip", "4"), "The first knob stands at 4 o'clock; say another hour, or back to correct it."},
		"skip to same place":   {append(skips(10), "4", "skip", "skip"), "The first knob stands at 4 o'clock; say another hour, or back to correct it."},
		"same name":            {append(skips(11), "one bump", "4", "One-Bump"), "Another knob is called one bump; say a name of its own."},
		"no name":              {append(skips(11), "..."), "That cannot be spoken; say a name such as left-hand or two bumps."},
		"name like a number":   {append(skips(15), "9"), "That is a command or a number, and would be mistaken; say a name such as left-hand or two bumps."},
		"name like an answer":  {append(skips(15), "no"), "That is a command or a number, and would be mistaken; say a name such as left-hand or two bumps."},
		"nothing, twice":       {append(skips(4), "", "repeat"), "Question 5 of 21, the last about the telescope. Is there a coma corrector or a corrector lens in the light path? " + english.Sections["corrector"]["help"]},
		"long name":            {append(skips(11), strings.Repeat("bump ", 9)), "That is too long to hear at every turn; use at most 40 letters."},
		"language":             {[]string{"latin"}, `I do not speak "latin"; say English, German, French, Spanish, Italian, Portuguese, Dutch, Polish or Swedish.`},
		"no answer of number":  {append(skips(21), "22"), `There is no answer "22"; say yes, or repeat to hear the numbers.`},
		"which number":         {append(skips(21), "no"), "Which number is wrong?"},
		"no camera":            {append(skips(5), "usb"), `"usb" is no camera; say a number, a path such as /dev/video2, a dash for a pipe, or virtual.`},
		"walk":                 {append(skips(16), "200"), "The walk cannot be 200; say 0 to 100 steps."},
		"unprintable":          {[]string{"a\x07b"}, "That line cannot be read; say it again in fewer plain letters."},
		"endless":              {[]string{strings.Repeat("9", 1001)}, "That line cannot be read; say it again in fewer plain letters."},
	} {
		s := &script{answers: c.answers}
		if _, err := Run(context.Background(), s, Start{Config: config.Default()}); !errors.Is(err, io.EOF) {
			t.Errorf("%s: the answers end, but the set-up ends with %v", name, err)
		}
		if !slices.Contains(s.said, c.said) {
			t.Errorf("%s: nobody says %q in\n%s", name, c.said, strings.Join(s.said, "\n"))
		}
	}
}

func TestCorrectorIsRemembered(t *testing.T) {
	c, _ := run(t, slices.Concat([]string{"skip", "200", "1000", "skip", "yes", "no"}, skips(16), []string{"yes"})...)
	if !errors.Is(c.Validate(), config.ErrCorrector) {
		t.Errorf("a corrector that stayed in is not refused: %v", c.Validate())
	}
	if !slices.Contains(Closing(c, "x", "", true), english.say("corrector-in")) {
		t.Error("nothing is said of the corrector at the end")
	}
	c, _ = run(t, slices.Concat([]string{"skip", "200", "1000", "skip", "yes", "yes"}, skips(16), []string{"yes"})...)
	if c.Validate() != nil {
		t.Errorf("a corrector that was taken out: %v", c.Validate())
	}
}

// A new aperture that does not go with the focal length opens that question again.
func TestApertureCorrected(t *testing.T) {
	c, _ := run(t, slices.Concat([]string{"skip", "2000", "10000"}, skips(18), []string{"2", "200", "1000", "yes"})...)
	if c.Telescope.ApertureMM != 200 || c.Telescope.FocalLengthMM != 1000 {
		t.Errorf("the telescope is %+v", c.Telescope)
	}
}

// What a telescope's own file holds stays, asked for or not, and is told.
func TestKnownSettingsStay(t *testing.T) {
	known := config.Default()
	known.Telescope = config.Telescope{ApertureMM: 150, FocalLengthMM: 750, SecondaryMM: 40}
	known.Camera.CentrePX = []float64{300.5, 200}
	known.MirrorCell.Knobs[1].Name = `the "red" one`
	known.Sound.DelayMS = 90
	s := &script{answers: slices.Concat(skips(22), []string{"2", "254", "yes"})}
	var wpm float64
	c, err := Run(context.Background(), s, Start{Config: known, Known: true, Voice: func(v config.Voice) { wpm = v.SpeedWPM }})
	if err != nil {
		t.Fatal(err)
	}
	if wpm != 0 {
		t.Error("the voice was changed unasked")
	}
	if !slices.Contains(s.said, "Question 2 of 22, 3 more about the telescope. What is the aperture? Now: 150 millimetres.") {
		t.Error("the known aperture is not told")
	}
	known.Telescope.ApertureMM = 254
	want, err := tomlOf(known)
	if got, _ := tomlOf(c); err != nil || got != want {
		t.Errorf("the settings are\n%s\nwant\n%s", got, want)
	}
}

// Sound without a delay follows from one that is not wireless any more, and the
// usual delay from one that is wireless now.
func TestWireless(t *testing.T) {
	c, _ := run(t, slices.Concat(skips(17), []string{"yes", "skip", "skip", "skip", "skip", "yes"})...)
	if c.Sound.DelayMS != wirelessDelay {
		t.Errorf("wireless sound is %v ms late", c.Sound.DelayMS)
	}
	c, _ = run(t, slices.Concat(skips(17), []string{"yes", "300", "skip", "skip", "skip", "18", "no", "yes"})...)
	if c.Sound.DelayMS != 0 {
		t.Errorf("sound by a cable is %v ms late", c.Sound.DelayMS)
	}
}

func TestQuit(t *testing.T) {
	s := &script{answers: []string{"skip", "200", "quit"}}
	if _, err := Run(context.Background(), s, Start{Config: config.Default()}); !errors.Is(err, ErrQuit) {
		t.Errorf("quit ends with %v", err)
	}
}

func TestVoiceChangesAtOnce(t *testing.T) {
	s := &script{answers: slices.Concat(skips(18), []string{"fast"})}
	var wpm float64
	_, err := Run(context.Background(), s, Start{Config: config.Default(), Voice: func(v config.Voice) { wpm = v.SpeedWPM }})
	if !errors.Is(err, io.EOF) || wpm != 220 {
		t.Errorf("the voice speaks %v words a minute, %v", wpm, err)
	}
}

// What was found is told before its question, and chosen by its number.
func TestDevicesAreChosenByNumber(t *testing.T) {
	s := &script{answers: slices.Concat(skips(5), []string{"2"}, skips(11), []string{"3", "2"}, skips(4), []string{"yes"})}
	c, err := Run(context.Background(), s, Start{Config: config.Default(),
		Cameras: []Camera{{"0", "Lid"}, {"2", "Planet"}}, Outputs: []string{"Loudspeaker", "Earpiece"}})
	if err != nil || c.Camera.Source != "2" || c.Sound.Output != "Earpiece" {
		t.Errorf("%+v, %+v, %v", c.Camera, c.Sound, err)
	}
	for _, want := range []string{
		"Question 6 of 22, 1 more about the camera. I find: 0, Lid; 2, Planet. Which camera?", "Camera: 2, Planet.",
		"Question 18 of 22, 3 more about sound and pace. I find: 0, the default; 1, Loudspeaker; 2, Earpiece. Which of them shall I speak on?",
		`"3" is none of them; say a number, or skip.`, "Sound output: Earpiece.",
	} {
		if !slices.Contains(s.said, want) {
			t.Errorf("nobody says %q in\n%s", want, strings.Join(s.said, "\n"))
		}
	}
}

// Numbers in the review have no gaps, and each opens its own question.
func TestReviewCounts(t *testing.T) {
	_, said := run(t, append(skips(21), "yes")...)
	n := 0
	for _, line := range said {
		if strings.HasPrefix(line, fmt.Sprintf("%d. ", n+1)) {
			n++
		}
	}
	if n != 21 {
		t.Errorf("%d answers are numbered in a row of 21:\n%s", n, strings.Join(said, "\n"))
	}
}
