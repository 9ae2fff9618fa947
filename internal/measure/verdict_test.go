package measure

import (
	"slices"
	"strings"
	"testing"

	"halocue/internal/optics"
	"halocue/prompts"
	"halocue/vision/ring"
)

var english = func() Say {
	s, err := prompts.NewSentences("en")
	if err != nil {
		panic(err)
	}
	return s.Say
}()

// Frames of known truth (testdata/stars) get the verdict that is true of them, what it
// leaves open, and the next step.
func TestVerdictOfFrames(t *testing.T) {
	is, j := known(t, "clean-01.png")
	l := lines(t, &j, "clean-01.png")[0]
	got := strings.Join(j.Verdict(english, l, 1), " ")
	for _, want := range []string{"One side of focus only: no proof.", "One frame only: the air is not averaged.", "Next: frames from the other side of focus too"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q lacks %q", got, want)
		}
	}
	times := is.Waves / optics.ToleranceRMS
	if about := english("measure.about-many", times); times >= 1.75 && !strings.HasPrefix(got, about) {
		t.Errorf("%q does not begin with %q, the truth", got, about)
	}
	if got := j.Verdict(english, lines(t, &j, "none-06.png")[0], 1); len(got) != 1 || !strings.HasPrefix(got[0], "No verdict") {
		t.Errorf("%q", got)
	}
}

// Nothing is called inside the tolerance, and no end is declared, that is not seen from both
// sides of focus, by a pixel that is known, in enough frames, and surely.
func TestVerdictNeverFlatters(t *testing.T) {
	j := &Job{Telescope: optics.Telescope{Aperture: 200, FocalLength: 1000, Secondary: 50}, PixelMM: 0.00375}
	line := func(ratio, sigma float64, flags ...ring.Flag) Line {
		l := Line{Found: true, Pair: true, Coma: &XY{X: ratio * j.allowed()}, Sigma: &XY{X: sigma * j.allowed(), Y: sigma * j.allowed()}, Flags: flags}
		l.Ratio = &ratio
		return l
	}
	good := strings.Join(j.Verdict(english, line(0.3, 0.1), enough), " ")
	if good != "Inside the tolerance: 0.3 of it, 0.5 at most. Nothing needs to be turned." {
		t.Errorf("%q", good)
	}
	for name, got := range map[string][]string{
		"one side":     j.Verdict(english, line(0.3, 0.1, ring.OneSide), enough),
		"guessed":      j.Verdict(english, line(0.3, 0.1, ring.PixelGuessed), enough),
		"few frames":   j.Verdict(english, line(0.3, 0.1), enough-1),
		"not sure":     j.Verdict(english, line(0.3, 0.4), enough),
		"outside":      j.Verdict(english, line(3.2, 0.1), enough),
		"maybe inside": j.Verdict(english, line(1.6, 0.5), enough),
	} {
		if strings.HasPrefix(got[0], "Inside") || slices.Contains(got, english("measure.next-none")) {
			t.Errorf("%s: %q", name, got)
		}
	}
	for ratio, want := range map[float64]string{0.3: "About 0.3 of the tolerance.", 1: "About the tolerance.", 1.5: "About one and a half times the tolerance.", 3.2: "About 3 times the tolerance."} {
		if got := j.Verdict(english, line(ratio, 0.1, ring.OneSide), 1)[0]; got != want {
			t.Errorf("%g: %q, want %q", ratio, got, want)
		}
	}
	if got := j.Verdict(english, line(1.6, 0.5), enough); !slices.Contains(got, "It may be inside.") {
		t.Errorf("%q", got)
	}
}
