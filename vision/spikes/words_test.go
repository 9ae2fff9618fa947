package spikes

import (
	"math"
	"strings"
	"testing"

	"halocue/prompts"
)

var english = func() Say {
	s, err := prompts.NewSentences("en")
	if err != nil {
		panic(err)
	}
	return s.Say
}()

func TestWords(t *testing.T) {
	deg := math.Pi / 180
	one := func(degrees float64) Spike { return Spike{Angle: degrees * deg, Light: 1, Limit: 0.8 * deg} }
	split := one(113)
	split.Double, split.Split, split.SplitSigma = true, 3*deg, 0.1*deg
	dim := one(113)
	dim.Light = 0.3
	cases := []struct {
		spikes []Spike
		want   []string
	}{
		{[]Spike{one(23), one(113)}, []string{"4 spikes, that is 2 lines", "at 23 and 113 degrees", "four vanes make them that stand square", "no vane is out of line by more than 0.8 degrees", "nothing of the main mirror"}},
		{[]Spike{one(20), one(80), one(141)}, []string{"6 spikes", "at 20, 80 and 141", "three vanes"}},
		{[]Spike{one(0.1), one(92)}, []string{"square"}},
		{[]Spike{one(10), one(80)}, []string{"cross at 70 degrees instead of 90"}},
		{[]Spike{one(10)}, []string{"2 spikes, that is one line", "one vane"}},
		{[]Spike{one(10), one(20), one(100)}, []string{"in line with no other"}},
		// 3 degrees on 200 mm: 0.0524 * 200 / 4 = 2.6 mm.
		{[]Spike{one(23), split}, []string{"at 113 degrees is split by 3.0 degrees", "vanes across it, at 23 degrees", "2.6 millimetres", "mirror covered"}},
		{[]Spike{one(23), dim}, []string{"only 30 per cent"}},
	}
	for _, c := range cases {
		got := strings.Join(Result{Found: true, Spikes: c.spikes}.Words(english, 200), " ")
		for _, w := range c.want {
			if !strings.Contains(got, w) {
				t.Errorf("%q lacks %q", got, w)
			}
		}
		if strings.Contains(got, "Each is one line") == strings.Contains(got, "is split") {
			t.Errorf("%q", got)
		}
	}
	if got := strings.Join(Result{Found: true, Spikes: []Spike{split}}.Words(english, 0), " "); strings.Contains(got, "millimetres") {
		t.Errorf("%q without an aperture", got)
	}
	for _, why := range []Why{Dark, TooBright, Defocused, AtEdge, NoSpikes} {
		if w := (Result{Why: why}).Words(english, 0); len(w) != 1 || strings.HasPrefix(w[0], "%!") {
			t.Errorf("%q: %q", why, w)
		}
	}
}
