package ears

import (
	"context"
	"encoding/binary"
	"math"
	"math/rand"
	"os/exec"
	"strings"
	"testing"

	"halocue/audio"
	"halocue/audio/command"
)

// voices are the synthetic people who speak the commands.
var voices = []string{
	"espeak:en-us", "espeak:en-us+f2", "espeak:en-us+m3", "espeak:en-us+f4", "espeak:gmw/en",
	"espeak:en-gb-scotland", "espeak:en-gb-x-rp", "espeak:en-029", "espeak:en-us-nyc",
	"flite:kal16", "flite:slt", "flite:rms", "flite:awb",
}

// speak is a text in a voice at 16 kHz, its RMS at -26 dBFS, with quiet around it.
func speak(t testing.TB, voice, text string) []float64 {
	t.Helper()
	engine, name, _ := strings.Cut(voice, ":")
	command := `espeak-ng -v "$0" -s 165 --stdout "$1"`
	if engine == "flite" {
		command = `flite -voice "$0" -t "$1" -o /dev/stdout`
	}
	command += ` | sox -q -t wav --ignore-length - -t raw -r 16000 -c 1 -b 16 -e signed - pad 0.5 0.8`
	out, err := exec.Command("sh", "-c", command, name, text).Output()
	if err != nil || len(out) < 16000 {
		t.Fatalf("speak as %s (packages espeak-ng, flite, sox): %v, %d bytes", voice, err, len(out))
	}
	return toLevel(samples16(out), -26)
}

func samples16(raw []byte) []float64 {
	x := make([]float64, len(raw)/2)
	for i := range x {
		x[i] = float64(int16(binary.LittleEndian.Uint16(raw[2*i:]))) / 32768
	}
	return x
}

// loudRMS is the RMS of the loud part of a sound.
func loudRMS(x []float64) float64 {
	sum, n := 1e-12, 1e-9
	for _, v := range x {
		if math.Abs(v) > 0.005 {
			sum, n = sum+v*v, n+1
		}
	}
	return math.Sqrt(sum / n)
}

// toLevel brings the loud part of a sound to an RMS level in dBFS.
func toLevel(x []float64, db float64) []float64 {
	g := math.Pow(10, db/20) / loudRMS(x)
	for i := range x {
		x[i] *= g
	}
	return x
}

// hear lets ears hear a sound and returns what they made of it. The room has a
// noise of -66 dBFS. before is called before each frame.
func hear(t testing.TB, e *Ears, x []float64, before func(frame int)) (all []command.Command) {
	t.Helper()
	rng := rand.New(rand.NewSource(3))
	var f audio.Frame
	for n := 0; n*len(f) < len(x)+audio.MicRate; n++ {
		if before != nil {
			before(n)
		}
		for i := range f {
			v := 0.0005 * rng.NormFloat64()
			if at := n*len(f) + i; at < len(x) {
				v += x[at]
			}
			f[i] = int16(32767 * math.Max(-1, math.Min(1, v)))
		}
		heard, err := e.Hear(context.Background(), f)
		if err != nil {
			t.Fatal(err)
		}
		for _, h := range heard {
			all = append(all, h.Command)
		}
	}
	return all
}

func newEars(t testing.TB, c Config) *Ears {
	t.Helper()
	e, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { e.Close() })
	return e
}
