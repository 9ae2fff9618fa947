package soak

import (
	"io"
	"testing"
)

// Nine simulated minutes of what make soak does for eight hours; in the proof the first
// night has pixels.
func TestShortSoak(t *testing.T)      { shortSoak(t, 0) }
func TestProveShortSoak(t *testing.T) { shortSoak(t, 10) }

func shortSoak(t *testing.T, pixels int) {
	o := Options{Hours: 0.15, Seed: 2, Pixels: pixels, Dir: t.TempDir(), Log: io.Discard}
	f, err := Run(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("\n%v", f)
	if err := f.Verdict(); err != nil {
		t.Error(err)
	}
	if len(f.Faults) < 8 || f.Bad == 0 {
		t.Error("too little went wrong to prove anything")
	}
}
