package hands

import "testing"

// The quantile is the least reaction within which six hands in seven have begun.
func TestQuantileOfReactions(t *testing.T) {
	for _, n := range []int{1, 2, 7, 20} {
		r := Reactions{}
		for i := range n {
			r.Add("turn", float64(n-i))
		}
		got, ok := r.Quantile("turn")
		within, below := 0, 0
		for _, s := range r["turn"] {
			if s <= got {
				within++
			}
			if s < got {
				below++
			}
		}
		if !ok || float64(within) < 0.85*float64(n) || float64(below) >= 0.85*float64(n) {
			t.Errorf("of 1 to %d s it is %g, %v", n, got, ok)
		}
	}
	if _, ok := (Reactions{}).Quantile("turn"); ok {
		t.Error("a quantile of nothing")
	}
}

// An evening's reactions are kept, the newest; what is late for everybody is none, and what
// began before the words' end is at once.
func TestReactionsThatCount(t *testing.T) {
	r := Reactions{}
	r.Add("turn", -3)
	r.Add("turn", Latest)
	if all := r["turn"]; len(all) != 1 || all[0] != 0 {
		t.Errorf("%v", all)
	}
	for i := range 100 {
		r.Add("turn", float64(i%50))
	}
	if all := r["turn"]; len(all) != kept || all[kept-1] != 49 {
		t.Errorf("%v", all)
	}
	odd := Reactions{"turn": {-1, 3, Latest, 2}}
	if c := odd.Clone(); len(c["turn"]) != 2 || c["turn"][0] != 3 {
		t.Errorf("%v", c)
	}
}
