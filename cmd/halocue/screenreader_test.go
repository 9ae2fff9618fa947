package main

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// What a screen reader stumbles over: redrawn lines, control characters, drawn lines,
// tabs, and columns made of blanks.
var stumbling = regexp.MustCompile("[\x00-\x09\x0b-\x1f\x7f]|[─-╿▀-▟]|\\S {2,}\\S")

func TestScreenReader(t *testing.T) {
	home := t.TempDir()
	t.Setenv("HOME", home)
	star := filepath.Join("..", "..", "testdata", "stars", "pair-01-inside.png")
	if _, err := os.Stat(star); err != nil {
		t.Fatal(err)
	}
	look := func(what, text string) {
		for _, line := range strings.Split(text, "\n") {
			if at := stumbling.FindString(line); at != "" {
				t.Errorf("%s: %q in %q", what, at, line)
			}
		}
	}
	for _, cmd := range newRoot(&app{}).Commands() {
		var b bytes.Buffer
		cmd.InitDefaultHelpFlag()
		writeHelp(&b, cmd)
		look(cmd.Name(), b.String())
	}
	for _, args := range [][]string{
		{}, {"version"}, {"nonsense"}, {"star", "--nonsense"},
		{"star", "--latitude", "51.5", "--longitude", "-0.1", "--at", "2026-12-01T21:00:00Z", "--sound", "none"},
		{"check", "--camera", "virtual", "--sound", "none", "--journal", "none"}, {"check", "--list"},
		{"measure", "--aperture-mm", "150", "--focal-length-mm", "750", star},
		{"spikes", "--camera", "virtual", "--clock", "frames", "--frames", "1", "--sound", "none"},
		{"setup", "--sound", "none"}, {"history"}, {"report"},
	} {
		_, out, errs := tryOut(t, args...)
		look(strings.Join(args, " "), out+errs)
		if out+errs == "" {
			t.Errorf("%v is silent", args)
		}
	}
}

// With --quiet nothing is printed that is heard; what is not heard is printed.
func TestQuiet(t *testing.T) {
	wav := filepath.Join(t.TempDir(), "said.wav")
	check := []string{"check", "--camera", "virtual", "--journal", "none", "--quiet"}
	if status, out, errs := tryOut(t, append(check, "--sound", wav)...); status != 0 || out+errs != "" {
		t.Errorf("status %d, %q, %q are printed and spoken", status, out, errs)
	}
	if info, err := os.Stat(wav); err != nil || info.Size() < 100_000 {
		t.Errorf("nothing is heard: %v, %v", info, err)
	}
	for _, silent := range [][]string{{"--sound", "none"}, {"--sound", wav, "--voice", "none"}} {
		if _, out, _ := tryOut(t, append(check, silent...)...); !strings.Contains(out, "Camera: fine.") {
			t.Errorf("with %v it is neither heard nor printed: %q", silent, out)
		}
	}
}
