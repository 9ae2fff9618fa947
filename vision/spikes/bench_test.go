package spikes

import (
	"fmt"
	"math"
	"testing"

	"halocue/internal/simulate/telescope"
	"halocue/vision/frame"
)

// How true a split of 0.05 radians is found through air of 2 arcsec, from stacks
// of 1, 3 and 10 exposures of 20 ms: RMS errors, and how many were not seen.
func BenchmarkSplitInAir(b *testing.B) {
	const split, nights = 0.05, 4
	stacks := []int{1, 3, 10}
	for b.Loop() {
		squares, missed := map[int]float64{}, map[int]float64{}
		for seed := range uint64(nights) {
			n := focused(4, 0, split)
			n.Seed, n.Sky.Seeing, n.Sky.Wind = 53+seed, 2, 7
			n.Camera.Bits, n.Camera.FullWell = 8, 8000
			tel := telescope.New(n)
			var s Stack
			f := frame.New(0, 0)
			for k := 1; k <= 10; k++ {
				tel.Advance(0.1 * float64(k))
				tel.Render(f)
				if err := s.Add(f); err != nil {
					b.Fatal(err)
				}
				if k != 1 && k != 3 && k != 10 {
					continue
				}
				if m := s.Measure(); len(m.Spikes) == 2 && m.Spikes[0].Double {
					squares[k] += math.Pow(m.Spikes[0].Split-split, 2)
				} else {
					missed[k]++
				}
			}
		}
		for _, k := range stacks {
			rms := math.Sqrt(squares[k] / max(nights-missed[k], 1))
			b.ReportMetric(rms*180/math.Pi, fmt.Sprintf("degrees-off-in-%d", k))
			b.ReportMetric(missed[k], fmt.Sprintf("missed-in-%d", k))
		}
	}
}

// A stack of 200 by 180 pixels, from light to words.
func BenchmarkMeasure(b *testing.B) {
	f := shot(focused(4, 0.03))
	for b.Loop() {
		if !measure(f).Found {
			b.Fatal("lost")
		}
	}
}
