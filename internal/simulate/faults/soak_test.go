package faults

import (
	"flag"
	"io"
	"os"
	"testing"
)

// make soak goes on for eight hours, and draws one night of twenty.
var (
	hours  = flag.Float64("hours", 0.15, "simulated hours of TestSoak")
	seed   = flag.Uint64("seed", 2, "its chance")
	pixels = flag.Int("pixels", 0, "one night of so many is drawn, sent and measured; 0: none")
)

// In the proof the first night has pixels.
func TestSoak(t *testing.T)      { soakFor(t, *hours, *pixels) }
func TestProveSoak(t *testing.T) { soakFor(t, 0.15, 10) }

func soakFor(t *testing.T, hours float64, pixels int) {
	o := soakOptions{Hours: hours, Seed: *seed, Pixels: pixels, Dir: t.TempDir(), Log: io.Discard}
	if testing.Verbose() {
		o.Log = os.Stderr
	}
	f, err := soak(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("\n%v", f)
	if err := f.verdict(); err != nil {
		t.Error(err)
	}
	if len(f.Faults) < 8 || f.Bad == 0 {
		t.Error("too little went wrong to prove anything")
	}
}
