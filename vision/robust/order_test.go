package robust

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// Every rank is what sorting has there, with and without values that are alike.
func TestOrderAgreesWithSorting(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 4))
	for n := 1; n <= 60; n++ {
		v := make([]float64, n)
		for i := range v {
			v[i] = rnd.NormFloat64()
			if n%3 == 0 {
				v[i] = float64(rnd.IntN(5))
			}
		}
		sorted := slices.Sorted(slices.Values(v))
		for k := range n {
			if got := Quickselect(slices.Clone(v), k); got != sorted[k] {
				t.Fatalf("%v: rank %d is %v, want %v", v, k, got, sorted[k])
			}
			singles := make([]float32, n)
			for i := range v {
				singles[i] = float32(v[i])
			}
			if got := Quickselect(singles, k); got != float32(sorted[k]) {
				t.Fatalf("%v: rank %d is %v in single precision, want %v", v, k, got, sorted[k])
			}
		}
		if got := Median(slices.Clone(v)); got != sorted[n/2] {
			t.Errorf("%v: median %v", v, got)
		}
		if got, want := MeanMedian(slices.Clone(v)), (sorted[(n-1)/2]+sorted[n/2])/2; got != want {
			t.Errorf("%v: mean median %v, want %v", v, got, want)
		}
		if got := Quantile(slices.Clone(v), 0.75); got != sorted[int(0.75*float64(n))] {
			t.Errorf("%v: upper quartile %v", v, got)
		}
	}
	if got := MeanMedian([]float64(nil)); got != 0 {
		t.Errorf("of nothing: %v", got)
	}
}
