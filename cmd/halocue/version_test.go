package main

import (
	"os"
	"regexp"
	"testing"
)

// The newest version in CHANGELOG.md is the one that the program says.
func TestVersionIsThatOfTheChangelog(t *testing.T) {
	text, err := os.ReadFile("../../CHANGELOG.md")
	if err != nil {
		t.Fatal(err)
	}
	newest := regexp.MustCompile(`(?m)^## (\d+\.\d+\.\d+)\b`).FindSubmatch(text)
	if newest == nil {
		t.Fatal("CHANGELOG.md has no heading like ## 1.2.3")
	}
	if got := string(newest[1]); got != number {
		t.Errorf("halocue version says %s, but the newest version in CHANGELOG.md is %s: change number in root.go", number, got)
	}
}

func TestVersionNamesTheCommitWhereItIsNotTheRelease(t *testing.T) {
	defer func(was string) { release = was }(release)
	for built, want := range map[string]string{
		"":              number,
		"v" + number:    number,
		"3799db8-dirty": number + " (3799db8-dirty)",
	} {
		release = built
		if got := version(); got != want {
			t.Errorf("built from %q it says %q, want %q", built, got, want)
		}
	}
}
