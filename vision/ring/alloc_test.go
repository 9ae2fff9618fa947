package ring

import "testing"

// A frame that follows another costs no memory, or the collector's pauses would
// be heard in the tone.
func TestTrackAllocatesNothing(t *testing.T) {
	s, f := cleanRing(t)
	m := s.meter()
	m.Track(f)
	m.Track(f)
	if n := testing.AllocsPerRun(5, func() { m.Track(f) }); n != 0 {
		t.Errorf("%g allocations per frame", n)
	}
}
