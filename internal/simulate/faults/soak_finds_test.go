package faults

import (
	"context"
	"os"
	"strings"
	"testing"
)

// Each thing that may go wrong is found, and named.
func TestVerdictFindsWhatIsWrong(t *testing.T) {
	warm := usage{Heap: 1e6, Resident: 100e6, Goroutines: 3, Files: 7}
	good := figures{Silence: 20, SunLate: 0.3, Warm: warm, Last: warm}
	if err := good.verdict(); err != nil {
		t.Errorf("of good figures: %v", err)
	}
	for want, spoil := range map[string]func(*figures){
		"not true":    func(f *figures) { f.False = 1 },
		"silence":     func(f *figures) { f.Silence = 41 },
		"Sun":         func(f *figures) { f.SunLate = 1.1 },
		"heap":        func(f *figures) { f.Last.Heap += 20 << 20 },
		"memory grew": func(f *figures) { f.Last.Resident += 100 << 20 },
		"goroutines":  func(f *figures) { f.Last.Goroutines++ },
		"files":       func(f *figures) { f.Last.Files += 3 },
	} {
		f := good
		spoil(&f)
		if err := f.verdict(); err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v", want, err)
		}
	}
}

// What is held is counted.
func TestUsageCounts(t *testing.T) {
	before := measure()
	f, err := os.Open(os.DevNull)
	if err != nil {
		t.Fatal(err)
	}
	held := make([]byte, 32<<20)
	for i := range held {
		held[i] = 1
	}
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() { defer close(ended); <-ctx.Done() }()
	after := measure()
	if after.Files != before.Files+1 || after.Goroutines != before.Goroutines+1 || after.Heap < before.Heap+30<<20 || after.Resident < before.Resident+16<<20 {
		t.Errorf("before %v, after %v", before, after)
	}
	stop()
	<-ended
	if held[0] != 1 || f.Close() != nil {
		t.Error("what was held is gone")
	}
}

// Silence is what is between words and tone, however they overlap.
func TestSilence(t *testing.T) {
	e := &ear{}
	for _, line := range []string{
		`{"t":1,"event":"say","seconds":5,"code":"turn","text":"Top knob."}`, `{"t":2,"event":"tone","hz":300}`,
		`{"t":4,"event":"measure"}`, `{"t":9,"event":"tone","hz":300}`, `{"t":9.1,"event":"tone","hz":300}`,
	} {
		if _, err := e.Write([]byte(line + "\n")); err != nil {
			t.Fatal(err)
		}
	}
	if s, at := e.silence(10); s != 3 || at != 6 || e.before(at) != "Top knob." || e.after("turn", 0.5) != 1 {
		t.Errorf("%g s at %g, after %q", s, at, e.before(at))
	}
	if s, at := e.silence(30); s < 20.7 || at < 9.1 {
		t.Errorf("at the end: %g s at %g", s, at)
	}
}
