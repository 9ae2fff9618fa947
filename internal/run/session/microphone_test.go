package session

import "testing"

// The night is ended by the second of two words, not by one that was misheard.
func TestEndIsSaidTwice(t *testing.T) {
	var w twice
	for _, c := range []struct {
		at   float64
		sure bool
	}{{5, false}, {40, false}, {50, true}} {
		if got := w.said(c.at); got != c.sure {
			t.Errorf("at %g s: %v", c.at, got)
		}
	}
}
