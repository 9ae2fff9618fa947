package device

import (
	"encoding/binary"
	"io"
	"math"
	"sort"
	"sync"
	"testing"
	"time"

	"halocue/audio"
)

// ear finds when a pitch begins and ends in what the card plays. Its own delay, a few ms,
// counts as the card's.
type ear struct {
	mu    sync.Mutex
	level map[float64]float64 // Hz: level in the last 5 ms, full scale at 1
}

func (e *ear) at(hz float64) float64 {
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.level[hz]
}

// listen follows some pitches until the test ends. They are whole cycles in 5 ms.
func listen(b *testing.B, pitches ...float64) *ear {
	b.Helper()
	r, err := server.Listen()
	if err != nil {
		b.Fatal(err)
	}
	e := &ear{level: map[float64]float64{}}
	done := make(chan struct{})
	b.Cleanup(func() { r.Close(); <-done })
	go func() {
		defer close(done)
		const n = 240
		raw := make([]byte, 4*n)
		for {
			if _, err := io.ReadFull(r, raw); err != nil {
				return
			}
			for _, hz := range pitches {
				var re, im float64
				for i := range n {
					sin, cos := math.Sincos(2 * math.Pi * hz * float64(i) / audio.Rate)
					v := float64(int16(binary.LittleEndian.Uint16(raw[4*i:]))) / 32768
					re, im = re+v*cos, im+v*sin
				}
				e.mu.Lock()
				e.level[hz] = 2 * math.Hypot(re, im) / n
				e.mu.Unlock()
			}
		}
	}()
	return e
}

// until waits for a condition and returns the milliseconds since began.
func until(b *testing.B, began time.Time, ok func() bool) float64 {
	b.Helper()
	for !ok() {
		if time.Since(began) > 5*time.Second {
			b.Fatal("nothing is heard")
		}
		time.Sleep(200 * time.Microsecond)
	}
	return float64(time.Since(began).Microseconds()) / 1000
}

func report(b *testing.B, ms []float64, what string) {
	sort.Float64s(ms)
	at := func(p float64) float64 { return ms[min(len(ms)-1, int(p*float64(len(ms))))] }
	b.ReportMetric(at(0.50), what+"-p50-ms")
	b.ReportMetric(at(0.99), what+"-p99-ms")
	b.ReportMetric(at(1), what+"-max-ms")
}

func steady(hz float64, seconds float64) audio.Clip {
	pcm := make([]int16, int(seconds*audio.Rate))
	for i := range pcm {
		pcm[i] = int16(6000 * math.Sin(2*math.Pi*hz*float64(i)/audio.Rate))
	}
	return audio.FromPCM(pcm)
}

func openBench(b *testing.B, cfg Config) *Card {
	b.Helper()
	c, err := Open(cfg)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { c.Close(); b.ReportMetric(float64(c.UnderRuns()), "under-runs") })
	time.Sleep(300 * time.Millisecond)
	return c
}

// From a changed tone to the first samples that hold it: in PortAudio's hands
// (wanted: 25 ms at the 99th percentile), and in the recorded monitor of the sink
// (wanted: 100 ms).
func BenchmarkToneToEar(b *testing.B) {
	d := audio.NewMixer(audio.Settings{Mapping: audio.Mapping{Wave: audio.Sine}})
	openBench(b, Config{Mixer: d})
	e := listen(b, 1200, 800)
	var handed, heard []float64
	loud := func() bool { return e.at(1200)+e.at(800) > 0.01 }
	for i := 0; b.Loop(); i++ {
		pulled := d.Time()
		began := time.Now()
		d.SetTone(audio.Tone{State: audio.Stop})
		handed = append(handed, until(b, began, func() bool { return d.Time() > pulled }))
		heard = append(heard, until(b, began, loud))
		d.SetTone(audio.Tone{})
		until(b, began, func() bool { return !loud() })
		time.Sleep(time.Duration(50+i*7%23) * time.Millisecond)
	}
	report(b, handed, "handed")
	report(b, heard, "heard")
}

// A stop cue interrupts what is being said (wanted: gone within 100 ms) and starts
// (wanted: within 150 ms). The words are tones here, so that the ear is sure.
func BenchmarkStopInterrupts(b *testing.B) {
	d := audio.NewMixer(audio.Settings{})
	openBench(b, Config{Mixer: d})
	e := listen(b, 400, 2000)
	long, stop := steady(400, 5), steady(2000, 0.3)
	var gone, starts []float64
	for i := 0; b.Loop(); i++ {
		d.Say(long)
		until(b, time.Now(), func() bool { return e.at(400) > 0.1 })
		time.Sleep(time.Duration(50+i*7%23) * time.Millisecond)
		began := time.Now()
		d.Say(stop)
		starts = append(starts, until(b, began, func() bool { return e.at(2000) > 0.05 }))
		gone = append(gone, until(b, began, func() bool { return e.at(400) < 0.01 }))
		until(b, began, func() bool { return e.at(2000) < 0.01 })
	}
	report(b, gone, "gone")
	report(b, starts, "starts")
}
