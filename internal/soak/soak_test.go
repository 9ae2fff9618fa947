package soak

import (
	"io"
	"testing"
)

// Nine simulated minutes of what make soak does for eight hours; the first night
// has pixels, where there is the time for it.
func TestShortSoak(t *testing.T) {
	o := Options{Hours: 0.15, Seed: 2, Pixels: 10, Dir: t.TempDir(), Log: io.Discard}
	if testing.Short() {
		o.Pixels = 0
	}
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
