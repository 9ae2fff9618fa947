package listener

import (
	"math"
	"testing"
)

func TestDecimatorKeepsVoiceAndDropsTheRest(t *testing.T) {
	level := func(hz float64) float64 {
		x := make([]float64, 48000)
		for i := range x {
			x[i] = math.Sin(2 * math.Pi * hz * float64(i) / 48000)
		}
		var d decimator
		sum, y := 0.0, append(d.push(x[:1001]), d.push(x[1001:])...)
		if len(y) != 16000 {
			t.Fatalf("%d samples of 48000", len(y))
		}
		for _, v := range y[1000:] {
			sum += v * v
		}
		return 10 * math.Log10(2*sum/float64(len(y)-1000))
	}
	if l := level(3000); math.Abs(l) > 0.1 {
		t.Errorf("3 kHz comes through at %.2f dB", l)
	}
	if l := level(9500); l > -50 {
		t.Errorf("9.5 kHz comes through at %.1f dB, as 6.5 kHz", l)
	}
}
