package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// Each command that README.md and docs/ show is there, with its flags.
func TestDocsShowWhatThereIs(t *testing.T) {
	pages, err := filepath.Glob("../../docs/*.md")
	if err != nil || len(pages) < 4 {
		t.Fatalf("%v, %v", pages, err)
	}
	shown := regexp.MustCompile("(?m)(?:^    (?:.*\\| )?|`)(?:bin/)?halocue ([^`\n]+)")
	seen := 0
	for _, page := range append(pages, "../../README.md") {
		text, err := os.ReadFile(page)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range shown.FindAllStringSubmatch(string(text), -1) {
			words := strings.Fields(m[1])
			root := newRoot(&app{})
			root.InitDefaultHelpCmd()
			cmd, _, err := root.Find(words[:1])
			if err != nil || words[0] != cmd.Name() {
				t.Errorf("%s: halocue %s: there is no such command", page, words[0])
				continue
			}
			cmd.InitDefaultHelpFlag()
			for _, w := range words[1:] {
				name, isFlag := strings.CutPrefix(w, "--")
				if name, _, _ = strings.Cut(name, "="); isFlag && cmd.Flags().Lookup(strings.TrimRight(name, ".,;")) == nil {
					t.Errorf("%s: halocue %s has no flag --%s", page, words[0], name)
				}
			}
			seen++
		}
	}
	if seen < 40 {
		t.Errorf("only %d commands were found", seen)
	}
}
