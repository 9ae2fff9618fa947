package nights

import (
	"testing"

	"halocue/internal/cue"
	"halocue/internal/simulate/telescope"
)

// sagging runs nights with a drawtube that is at another place after each racking
// through focus, by so many tolerances RMS along each axis.
func sagging(t *testing.T, first uint64, count int, tolerances float64) (untrue, aligned, told int) {
	t.Helper()
	rs, err := RunAll(first, count, Options{Draw: small, Person: "practised", Change: func(n *telescope.Night) {
		n.Sag = tolerances * n.Telescope.Tolerance()
	}})
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rs {
		if r.False {
			untrue++
		}
		if r.Result == cue.Aligned {
			aligned++
		}
		for _, s := range r.Said {
			if s.Code == cue.CodeSides {
				told++
				break
			}
		}
	}
	t.Logf("%g tolerances: of %d nights %d aligned, %d of them not true; %d told that the sides disagree", tolerances, count, aligned, untrue, told)
	return untrue, aligned, told
}

// A drawtube that sags is noticed in about half of the nights, and fewer of them end in a
// false claim. Some still do: a sag that happens to be the same twice is not seen.
func TestSaggingFocuser(t *testing.T)      { saggingFocuser(t, few/2) }
func TestProveSaggingFocuser(t *testing.T) { saggingFocuser(t, many/3) }

func saggingFocuser(t *testing.T, count int) {
	if untrue, aligned, told := sagging(t, 97501, count, 1); told == 0 || count > few && (untrue > count*3/10 || aligned > count/2 || told < count/3) {
		t.Errorf("with a sag of one tolerance: %d aligned, %d not true, %d told", aligned, untrue, told)
	}
	if untrue, aligned, _ := sagging(t, 97501, count, 0.1); untrue > 0 || count > few && aligned < count*4/5 {
		t.Errorf("with a tenth: %d aligned, %d not true", aligned, untrue)
	}
}
