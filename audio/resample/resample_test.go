package resample

import (
	"math"
	"testing"
)

// sine is so many seconds of one at half of full scale.
func sine(hz float64, rate int, seconds float64) []int16 {
	out := make([]int16, int(seconds*float64(rate)))
	for i := range out {
		out[i] = int16(math.Round(16384 * math.Sin(2*math.Pi*hz*float64(i)/float64(rate))))
	}
	return out
}

// A sine comes out as the same sine at the other rate, of the same phase, up to 0.42 of
// the lower one.
func TestSines(t *testing.T) {
	for _, from := range []int{16000, 22050, 24000, 44100} {
		for _, hz := range []float64{100, 1000, 4000, 0.42 * float64(from)} {
			got, err := PCM(sine(hz, from, 1), from, 48000)
			if err != nil || len(got) != 48000 {
				t.Fatalf("%d samples, %v", len(got), err)
			}
			want := sine(hz, 48000, 1)
			var noise, signal float64
			for i := 4000; i < 44000; i++ { // not where the sine begins and ends
				d := float64(got[i]) - float64(want[i])
				noise += d * d
				signal += float64(want[i]) * float64(want[i])
			}
			// Rounding alone adds -93 dB of this sine; a hundredth of a decibel off is -59.
			if db := 10 * math.Log10(noise/signal); db > -65 {
				t.Errorf("%g Hz from %d: what is added is %.0f dB", hz, from, db)
			}
		}
	}
}

// What cannot be at the lower rate does not come back as another tone.
func TestNothingFoldsBack(t *testing.T) {
	got, err := PCM(sine(15000, 48000, 1), 48000, 22050)
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range got[2000 : len(got)-2000] {
		if v > 3 || v < -3 {
			t.Fatalf("sample %d is %d", i, v)
		}
	}
}

func TestOddLengths(t *testing.T) {
	for n := range 40 {
		got, err := PCM(make([]int16, n), 22050, 48000)
		if err != nil || len(got) != n*48000/22050 {
			t.Errorf("%d samples become %d, %v", n, len(got), err)
		}
	}
	if got, err := PCM([]int16{1, 2, 3}, 48000, 48000); err != nil || len(got) != 3 || got[2] != 3 {
		t.Errorf("%v, %v", got, err)
	}
	for _, rate := range []int{0, -1, lowest - 1, highest + 1} {
		if _, err := PCM([]int16{1}, rate, 48000); err == nil {
			t.Errorf("%d samples a second are taken", rate)
		}
	}
}

func BenchmarkPhrase(b *testing.B) {
	in := sine(440, 22050, 1.5)
	for b.Loop() {
		if _, err := PCM(in, 22050, 48000); err != nil {
			b.Fatal(err)
		}
	}
}
