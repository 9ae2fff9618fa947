package audio

import (
	"math"
	"testing"
)

func pull(d *Desk, seconds float64) []float64 {
	buf := make([][2]float64, samples(seconds))
	d.Stream(buf)
	out := make([]float64, len(buf))
	for i, v := range buf {
		out[i] = v[0]
	}
	return out
}

// sine is a clip of a sine at a level in dBFS (peak).
func sine(hz, seconds, db float64) Clip {
	pcm := make([]float32, samples(seconds))
	for i := range pcm {
		pcm[i] = float32(fromDB(db) * math.Sin(2*math.Pi*hz*float64(i)/Rate))
	}
	return Clip{pcm}
}

func TestStreamDoesNotAllocate(t *testing.T) {
	d := NewDesk(Settings{Mapping: Mapping{Reference: true}})
	clip := sine(300, 0.05, -10)
	buf := make([][2]float64, 512)
	for s := Off; s <= Centre; s++ {
		d.SetTone(Tone{s, 2, 1})
		d.Say(clip)
		d.Play(StarLost)
		if n := testing.AllocsPerRun(50, func() { d.Stream(buf) }); n != 0 {
			t.Errorf("state %d: %v allocations a buffer", s, n)
		}
	}
}

func TestWordsStartWithTheNextSample(t *testing.T) {
	d := NewDesk(Settings{})
	pull(d, 0.1)
	clip := sine(1000, 0.2, -20)
	d.Say(clip)
	if speaking, left := d.Speaking(); !speaking || left != clip.Samples() {
		t.Fatalf("before a pull: speaking %v, %d left of %d", speaking, left, clip.Samples())
	}
	got := pull(d, 0.1)
	for i := range got {
		if want := float64(clip.pcm[i]); math.Abs(got[i]-want) > 1e-6 {
			t.Fatalf("sample %d is %v, want %v", i, got[i], want)
		}
	}
	if _, left := d.Speaking(); left != clip.Samples()-len(got) {
		t.Errorf("%d left", left)
	}
}

func BenchmarkStream(b *testing.B) {
	d := NewDesk(Settings{})
	d.SetTone(Tone{Trim, 2, 0.3})
	buf := make([][2]float64, 512)
	for b.Loop() {
		d.Stream(buf)
	}
	b.ReportMetric(b.Elapsed().Seconds()/(float64(b.N)*512/Rate), "of-real-time")
}
