package byear

import (
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"halocue/audio"
	"halocue/audio/command"
	"halocue/audio/listener"
	"halocue/internal/cue"
)

// person has ears and hands, and knows what the knobs are called. What is heard is
// done; what is heard and not understood is asked for again by a button.
type person struct {
	ear    *listener.Listener
	knobs  map[string]string // as they are heard, and as they are called
	hear   func(cue.Instruction)
	button chan command.Command
	mu     sync.Mutex // guards log: whoever speaks may do so from elsewhere
	log    []string
	acted  int
	asked  int
}

func newPerson(t testing.TB, knobs []cue.Knob, hear func(cue.Instruction)) *person {
	t.Helper()
	ear, err := listener.New(listener.Config{Sentences: sentences(knobs), Words: pronounced})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { ear.Close() })
	p := &person{ear: ear, hear: hear, knobs: map[string]string{}, button: make(chan command.Command, 16)}
	for _, k := range knobs {
		p.knobs[plain(k.Name)] = k.Name
	}
	return p
}

// shortest is how long a sound must be to be taken for words that were missed, s.
const shortest = 0.3

// listen takes in the next samples, mono at 48 kHz.
func (p *person) listen(mono []float64) error {
	heard, err := p.ear.Hear(context.Background(), mono)
	if err != nil {
		return err
	}
	for _, h := range heard {
		p.note(fmt.Sprintf("%6.1f      heard: %s", h.From, h.Text))
		if h.Text == "" && h.To-h.From > shortest {
			p.asked++
			p.button <- command.Repeat
		}
		for _, in := range understand(h.Text, h.From, h.To) {
			in.Knob = p.knobs[in.Knob]
			p.acted++
			p.hear(in)
		}
	}
	return nil
}

// Write notes what the program says that it says, to be read beside what was heard.
func (p *person) Write(line []byte) (int, error) {
	p.note(strings.TrimRight(string(line), "\n"))
	return len(line), nil
}

func (p *person) note(line string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.log = append(p.log, line)
}

// air is a sink that writes a WAV file, and a person who reads along in it: 16 bits
// a sample are all that passes from the one to the other.
type air struct {
	*audio.File
	ear *os.File
	*person
}

func newAir(t testing.TB, d *audio.Mixer, p *person) *air {
	t.Helper()
	path := filepath.Join(t.TempDir(), "night.wav")
	out, err := audio.NewFile(d, path)
	if err != nil {
		t.Fatal(err)
	}
	in, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { in.Close() })
	if _, err := in.Seek(44, io.SeekStart); err != nil { // the header
		t.Fatal(err)
	}
	return &air{out, in, p}
}

func (a *air) Advance(seconds float64) error {
	if err := a.File.Advance(seconds); err != nil {
		return err
	}
	raw, err := io.ReadAll(a.ear)
	if err != nil {
		return err
	}
	mono := make([]float64, len(raw)/4) // two channels alike: one ear is enough
	for i := range mono {
		mono[i] = float64(int16(binary.LittleEndian.Uint16(raw[4*i:]))) / 32768
	}
	return a.listen(mono)
}
