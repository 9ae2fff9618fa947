package voice

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
)

// counting is a voice whose every sentence is counted in a file.
func counting(t *testing.T) (c Command, spoken func() int) {
	t.Helper()
	log := filepath.Join(t.TempDir(), "log")
	program := filepath.Join(t.TempDir(), "speak")
	if err := os.WriteFile(program, []byte("#!/bin/sh\necho >>"+log+"\nexec espeak-ng --stdin --stdout\n"), 0o700); err != nil {
		t.Fatal(err)
	}
	return Command{Argv: []string{program}}, func() int {
		data, _ := os.ReadFile(log) // not there: nothing was spoken
		return strings.Count(string(data), "\n")
	}
}

// say has a night of its own say a text.
func say(t *testing.T, c Command, dir, text string) []int16 {
	t.Helper()
	clip, err := NewSpeaker(keep(c, dir)).Clip(context.Background(), text)
	if err != nil || clip.Samples() == 0 {
		t.Fatalf("%d samples, %v", clip.Samples(), err)
	}
	return clip.Int16()
}

func files(t *testing.T, dir string) []string {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil {
		t.Fatal(err)
	}
	return paths
}

func TestWordsAreSpokenOnceInALifetime(t *testing.T) {
	c, spoken := counting(t)
	dir := filepath.Join(t.TempDir(), "made", "as needed")
	first := say(t, c, dir, cue)
	if again := say(t, c, dir, cue); !slices.Equal(first, again) || spoken() != 1 {
		t.Errorf("spoken %d times, %d and %d samples", spoken(), len(first), len(again))
	}
	if plain := say(t, c, "", cue); !slices.Equal(first, plain) || spoken() != 2 {
		t.Errorf("spoken %d times; what is kept is not what was said", spoken())
	}
	for i, other := range []Command{
		{Argv: append(slices.Clone(c.Argv), "faster")}, // as a voice or a speed would be
		{Argv: c.Argv}, // a new version, below
	} {
		if i == 1 {
			later := time.Now().Add(time.Hour)
			if err := os.Chtimes(c.Argv[0], later, later); err != nil {
				t.Fatal(err)
			}
		}
		before := spoken()
		if say(t, other, dir, cue); spoken() != before+1 {
			t.Errorf("way %d: another voice's words were taken", i)
		}
	}
	if n := len(files(t, dir)); n != 3 {
		t.Errorf("%d files", n)
	}
}

// Whatever is wrong with a file, the words are spoken again, and kept again.
func TestDamagedWordsAreSpokenAgain(t *testing.T) {
	c, spoken := counting(t)
	dir := t.TempDir()
	want := say(t, c, dir, cue)
	path := files(t, dir)[0]
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	flipped := slices.Clone(whole)
	flipped[len(flipped)/2] ^= 1
	for name, data := range map[string][]byte{
		"empty": nil, "half": whole[:len(whole)/2], "odd": whole[:len(whole)-1], "no sound": whole[:storeHeader], "header": whole[:5],
		"one bit": flipped, "longer": append(slices.Clone(whole), 1, 2), "something else": []byte("RIFF....WAVE"),
	} {
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		before := spoken()
		if got := say(t, c, dir, cue); !slices.Equal(got, want) || spoken() != before+1 {
			t.Errorf("%s: spoken %d times more, %d samples", name, spoken()-before, len(got))
		}
		if say(t, c, dir, cue); spoken() != before+1 {
			t.Errorf("%s: not kept again", name)
		}
	}
	if err := errors.Join(os.Remove(path), syscall.Mkfifo(path, 0o600)); err != nil {
		t.Fatal(err)
	}
	if got := say(t, c, dir, cue); !slices.Equal(got, want) {
		t.Errorf("a named pipe: %d samples", len(got))
	}
	// The words of another text under this one's name.
	other := newStore(dir, mostKept)
	other.put("other", want)
	if err := os.Rename(other.path("other"), other.path("this")); err != nil {
		t.Fatal(err)
	}
	if _, ok := other.get("this"); ok {
		t.Error("words of another text are taken")
	}
}

func TestADiskThatCannotBeWrittenLosesNothingElse(t *testing.T) {
	c, _ := counting(t)
	want := say(t, c, "", cue)
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, dir := range []string{filepath.Join(file, "below"), file, "/proc/halocue", "/dev/full"} {
		if got := say(t, c, dir, cue); !slices.Equal(got, want) {
			t.Errorf("%s: %d samples, want %d", dir, len(got), len(want))
		}
	}
}

// What was used least recently makes room, and files of others stay.
func TestTheStoreIsBounded(t *testing.T) {
	dir := t.TempDir()
	old := time.Now().Add(-30 * 24 * time.Hour)
	for name, age := range map[string]time.Time{"a.new": old, "b.new": time.Now(), "notes.txt": old} {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte("x"), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Chtimes(path, age, age); err != nil {
			t.Fatal(err)
		}
	}
	s := newStore(dir, 20_000)
	each := make([]int16, 900)
	for i := range 10 {
		key := fmt.Sprint(i)
		s.put(key, each)
		at := old.Add(time.Duration(i) * time.Hour)
		if err := os.Chtimes(s.path(key), at, at); err != nil {
			t.Fatal(err)
		}
	}
	if _, ok := s.get("0"); !ok { // now it was used
		t.Fatal("the first is gone before the bound")
	}
	newStore(dir, 20_000).put("more", each) // another night counts what is there
	for key, want := range map[string]bool{"0": true, "1": false, "2": false, "9": true, "more": true} {
		if _, ok := s.get(key); ok != want {
			t.Errorf("%s is kept: %v", key, ok)
		}
	}
	size := int64(0)
	for _, path := range files(t, dir) {
		info, err := os.Stat(path)
		if err != nil {
			t.Fatal(err)
		}
		size += info.Size()
	}
	if size > 20_000+2 {
		t.Errorf("%d bytes are kept", size)
	}
	for name, want := range map[string]bool{"a.new": false, "b.new": true, "notes.txt": true} {
		if _, err := os.Stat(filepath.Join(dir, name)); (err == nil) != want {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Memory is bounded too: what was asked for last stays.
func TestTheSpeakerForgetsTheOldest(t *testing.T) {
	f := &long{}
	s := NewSpeaker(f)
	for i := range 10 {
		for _, text := range []string{"often", fmt.Sprint(i)} {
			if _, err := s.Clip(context.Background(), text); err != nil {
				t.Fatal(err)
			}
		}
	}
	if s.held > mostHeld || len(s.clips) < 3 {
		t.Errorf("%d clips of %d samples are held", len(s.clips), s.held)
	}
	if f.asked["often"] != 1 {
		t.Errorf("what is asked for often was spoken %d times", f.asked["often"])
	}
	if before := f.asked["0"]; before != 1 {
		t.Fatalf("asked %d times", before)
	}
	if _, err := s.Clip(context.Background(), "0"); err != nil || f.asked["0"] != 2 {
		t.Errorf("the oldest was still there: %v", err)
	}
}

// What is on disk is held in memory only while there is little.
func TestTheSpeakerLeavesToTheDiskWhatIsThere(t *testing.T) {
	c, spoken := counting(t)
	s := NewSpeaker(keep(c, t.TempDir()))
	s.held = mostToo + 1 // as if by other words
	for range 2 {
		if _, err := s.Clip(context.Background(), cue); err != nil || len(s.clips) != 0 || spoken() != 1 {
			t.Fatalf("%d clips in memory, spoken %d times, %v", len(s.clips), spoken(), err)
		}
	}
	s.held = 0
	if _, err := s.Clip(context.Background(), cue); err != nil || len(s.clips) != 1 {
		t.Errorf("%d clips in memory, %v", len(s.clips), err)
	}
}

// long speaks 40 seconds of a square wave.
type long struct{ asked map[string]int }

func (l *long) Speak(_ context.Context, text string) (PCM, error) {
	if l.asked == nil {
		l.asked = map[string]int{}
	}
	l.asked[text]++
	pcm := make([]int16, 40*8000)
	for i := range pcm {
		pcm[i] = int16(2000 * (1 - i/8%2*2))
	}
	return PCM{Rate: 8000, Samples: pcm}, nil
}
