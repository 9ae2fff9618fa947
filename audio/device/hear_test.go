package device

// What the tests listen with. It shares no code with what makes the sound.

import (
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"testing"
)

// mustReadWAV returns the first channel of a 16-bit WAV file, full scale at 1.
func mustReadWAV(t testing.TB, path string) []float64 {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	pcm, err := readWAV(data)
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	return pcm
}

// readWAV walks the chunks. A recorder that was stopped may leave a data size
// larger than the file.
func readWAV(data []byte) ([]float64, error) {
	if len(data) < 44 || string(data[:4]) != "RIFF" {
		return nil, fmt.Errorf("not a WAV file")
	}
	channels := 1
	for at := 12; at+8 <= len(data); {
		size := int(binary.LittleEndian.Uint32(data[at+4:]))
		body := data[at+8:]
		switch string(data[at : at+4]) {
		case "fmt ":
			channels = int(binary.LittleEndian.Uint16(body[2:]))
			if bits := binary.LittleEndian.Uint16(body[14:]); bits != 16 {
				return nil, fmt.Errorf("%d bits a sample", bits)
			}
		case "data":
			body = body[:min(size, len(body))]
			pcm := make([]float64, len(body)/2/channels)
			for i := range pcm {
				pcm[i] = float64(int16(binary.LittleEndian.Uint16(body[2*i*channels:]))) / 32768
			}
			return pcm, nil
		}
		at += 8 + size + size&1
	}
	return nil, fmt.Errorf("no sound in the file")
}

// level is the level at one frequency, in dB relative to a full-scale sine, at 48
// kHz: one bin of a Fourier transform under a Hann window.
func level(pcm []float64, hz float64) float64 {
	var re, im, sum float64
	for i, v := range pcm {
		w := 1 - math.Cos(2*math.Pi*float64(i)/float64(len(pcm)))
		sin, cos := math.Sincos(2 * math.Pi * hz * float64(i) / 48000)
		re, im, sum = re+v*w*cos, im+v*w*sin, sum+w
	}
	return 20 * math.Log10(2*math.Hypot(re, im)/sum+1e-12)
}
