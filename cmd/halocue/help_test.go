package main

import (
	"bytes"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"
)

// twice is what a flag takes, said again by its help.
var twice = regexp.MustCompile(`^--\S+ ([A-Z]+): \pP?([A-Z]{2,})\b`)

// Every help begins with what is most used, ten flags at most, has an example that the
// command takes, no flag twice, and no line that a narrow terminal breaks.
func TestHelps(t *testing.T) {
	for _, cmd := range newRoot(&app{}).Commands() {
		if cmd.Name() == "completion" || cmd.Name() == "help" || cmd.Hidden {
			continue
		}
		cmd.InitDefaultHelpFlag()
		titles, flags := placed(cmd)
		if n := len(flags[mainFlags]); n > mostMain+1 { // help itself besides
			t.Errorf("%s: %d flags come first", cmd.Name(), n)
		}
		seen := map[string]bool{}
		for _, title := range titles {
			for _, f := range flags[title] {
				if seen[f.Name] {
					t.Errorf("%s: --%s stands twice", cmd.Name(), f.Name)
				}
				seen[f.Name] = true
			}
		}
		var b bytes.Buffer
		writeHelp(&b, cmd)
		for line := range strings.Lines(b.String()) {
			if utf8.RuneCountInString(line) > width+1 || twice.MatchString(line) {
				t.Errorf("%s: the help has the line %q", cmd.Name(), line)
			}
		}
		for _, line := range strings.Split(cmd.Example, "\n") {
			words := strings.Fields(line)
			if len(words) < 2 || words[0] != "halocue" && words[0] != "mkdir" {
				t.Errorf("%s: an example is %q", cmd.Name(), line)
				continue
			}
			for _, w := range words[2:] {
				if name, isFlag := strings.CutPrefix(w, "--"); isFlag && !takes(words[1], name) {
					t.Errorf("%s: the example %q has no flag --%s", cmd.Name(), line, name)
				}
			}
		}
	}
}

func takes(name, flag string) bool {
	cmd, _, err := newRoot(&app{}).Find([]string{name})
	return err == nil && cmd.Flags().Lookup(flag) != nil
}

// A flag's help says what it takes, within which bounds, and what it is if not given.
func TestFlagHelp(t *testing.T) {
	var b bytes.Buffer
	cmd, _, err := newRoot(&app{}).Find([]string{"collimate"})
	if err != nil {
		t.Fatal(err)
	}
	writeHelp(&b, cmd)
	for _, want := range []string{
		"\n--speed-wpm NUMBER: how fast the voice speaks; from 80 to 450 words a minute; default 160\n",
		"\n--tone WORD: pitch-and-pulse, pulse or words; default pitch-and-pulse\n",
		"\n--knobs LIST: the three knobs as name=clock, by commas; default left-hand=8,right-hand=4,upper=12\n",
		"\n--focuser-reach-steps NUMBER: how far the focuser may go from where it stood, 0 a quarter of its range; from 10 to 1000000 steps\n",
		"\n--locks: the knobs have locks\n",
	} {
		if !strings.Contains(strings.ReplaceAll(b.String(), "\n  ", " "), want) {
			t.Errorf("there is no %q in\n%s", want, b.String())
		}
	}
}

// Whatever speaks can be quiet, and whatever has settings takes a profile.
func TestFlagsAreAlike(t *testing.T) {
	for _, cmd := range newRoot(&app{}).Commands() {
		has := func(flag string) bool { return cmd.Flags().Lookup(flag) != nil }
		if has("voice") && has("sound") && !has("quiet") {
			t.Errorf("%s speaks, and has no --quiet", cmd.Name())
		}
		if without := []string{"version", "completion", "help", "manual"}; !has("profile") && !slices.Contains(without, cmd.Name()) && !cmd.Hidden {
			t.Errorf("%s has no --profile", cmd.Name())
		}
		if with := []string{"check", "star", "measure", "scale", "wobble", "spikes", "report", "history"}; !has("json") && slices.Contains(with, cmd.Name()) {
			t.Errorf("%s has no --json", cmd.Name())
		}
	}
}
