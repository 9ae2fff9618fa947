package faults

import (
	"errors"
	"fmt"
	"sort"
	"strings"
	"time"
)

// What is allowed (judgement, but for longestSilence).
const (
	// longestSilence is the longest time without words or tone, s: what lasts is
	// said again after 30 s at the latest (the prompts catalogue), and something else
	// may have to be said to its end first.
	longestSilence = 40.0
	// sunWithin is how soon the warning of the Sun must begin, s.
	sunWithin = 1.0
	// heapMore and residentMore are how much more may be held than after the first
	// tenth, bytes: caches fill, and the C libraries keep some of the memory they free.
	heapMore     = 8 << 20
	residentMore = 64 << 20
	filesMore    = 2
)

// String is the figures as they are printed.
func (f figures) String() string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("%.2f simulated hours in %v: %d nights (%d of them with pixels), %d frames, %d of them damaged", f.Hours, f.Took.Round(time.Second), f.Nights, f.Pixels, f.Frames, f.Bad)
	line("results: %s", counts(f.Results))
	line("faults: %s", counts(f.Faults))
	line("said: %d; false claims: %d", f.Said, f.False)
	line("longest silence: %.1f s (%s)", f.Silence, f.SilenceAt)
	line("longest from a flood of light to the warning: %.1f s", f.SunLate)
	line("after the first tenth: %v", f.Warm)
	line("most of each after it: %v", f.Highest)
	line("at the end:            %v", f.Last)
	return b.String()
}

func counts(m map[string]int) string {
	var parts []string
	for k, n := range m {
		if k == "" {
			k = "none"
		}
		parts = append(parts, fmt.Sprintf("%s %d", k, n))
	}
	sort.Strings(parts)
	return strings.Join(parts, ", ")
}

// verdict is what is wrong with the figures, or nil.
func (f figures) verdict() error {
	var errs []error
	wrong := func(bad bool, format string, args ...any) {
		if bad {
			errs = append(errs, fmt.Errorf(format, args...))
		}
	}
	wrong(f.False > 0, "%d claims were not true", f.False)
	wrong(f.Silence > longestSilence, "%.1f s of silence, %s; allowed are %.0f", f.Silence, f.SilenceAt, longestSilence)
	wrong(f.SunLate > sunWithin, "the Sun was warned of after %.1f s; allowed is %.0f", f.SunLate, sunWithin)
	wrong(f.Last.Heap > f.Warm.Heap+heapMore, "the heap grew from %v to %v", f.Warm, f.Last)
	wrong(f.Last.Resident > f.Warm.Resident+residentMore, "memory grew from %v to %v", f.Warm, f.Last)
	wrong(f.Last.Goroutines > f.Warm.Goroutines, "goroutines are left: %v, then %v", f.Warm, f.Last)
	wrong(f.Last.Files > f.Warm.Files+filesMore, "files are left open: %v, then %v", f.Warm, f.Last)
	return errors.Join(errs...)
}
