package audio

import (
	"encoding/binary"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

func TestFileHoldsWhatTheMixerPlayed(t *testing.T) {
	clip := sine(440, 0.5, -12)
	d := NewMixer(Settings{})
	path := render(t, d, 1, func(tenth int) {
		if tenth == 3 {
			if got := d.Time(); math.Abs(got-0.3) > 1e-9 {
				t.Errorf("at the third tenth the mixer says %v s", got)
			}
			d.Say(clip)
		}
	})
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if len(data) != wavHeader+Rate*frameBytes {
		t.Fatalf("%d bytes", len(data))
	}
	start := samples(0.3)
	for i, want := range clip.pcm {
		left := int16(binary.LittleEndian.Uint16(data[wavHeader+(start+i)*frameBytes:]))
		right := int16(binary.LittleEndian.Uint16(data[wavHeader+(start+i)*frameBytes+2:]))
		if left != want || right != want {
			t.Fatalf("sample %d is %d, %d, want %d: t is not the words' first sample", i, left, right, want)
		}
	}
	if out, err := exec.Command("soxi", path).CombinedOutput(); err != nil || !strings.Contains(string(out), "00:00:01.00 = 48000 samples") {
		t.Errorf("soxi (package sox) does not read it as one second: %v\n%s", err, out)
	}
}

func TestTenthsDoNotDrift(t *testing.T) {
	for _, fps := range []float64{10, 7, 29.97, 1000} {
		d := NewMixer(Settings{})
		n := NewNull(d)
		for range int(600 * fps) {
			if err := n.Advance(1 / fps); err != nil {
				t.Fatal(err)
			}
		}
		if want := math.Floor(600*fps) / fps; math.Abs(d.Time()-want) > 2.0/Rate {
			t.Errorf("%v frames a second: %.6f s after %.6f", fps, d.Time(), want)
		}
	}
}

// A file that was never closed, as after a crash, can be played nearly to its end.
func TestFileIsPlayableAfterACrash(t *testing.T) {
	path := filepath.Join(t.TempDir(), "crash.wav")
	d := NewMixer(Settings{})
	f, err := NewFile(d, path)
	if err != nil {
		t.Fatal(err)
	}
	for i := range 120 {
		if err := f.Advance(0.1); err != nil {
			t.Fatal(err)
		}
		if info, err := os.Stat(path); err != nil || info.Size() != int64(wavHeader+(i+1)*Rate/10*frameBytes) {
			t.Fatalf("after %d tenths of a second the file has %d bytes (%v)", i+1, info.Size(), err)
		}
	}

	f.file.Close()
	out, err := exec.Command("soxi", "-D", path).Output()
	if err != nil || !strings.HasPrefix(string(out), "10.0") {
		t.Errorf("after 12 s and a crash soxi says %q, %v", out, err)
	}
}

func TestFileThatCannotBeWritten(t *testing.T) {
	if _, err := NewFile(NewMixer(Settings{}), filepath.Join(t.TempDir(), "no", "such.wav")); err == nil || !strings.Contains(err.Error(), "give a path") {
		t.Errorf("error %v names no next step", err)
	}
	pipe := filepath.Join(t.TempDir(), "pipe.wav")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := NewFile(NewMixer(Settings{}), pipe); err == nil || !strings.Contains(err.Error(), "is a pipe; give another path") {
		t.Errorf("a named pipe: %v", err)
	}
	f, err := NewFile(NewMixer(Settings{}), "/dev/full")
	if err != nil {
		t.Fatal(err)
	}
	if err = f.Advance(10); err == nil || !strings.Contains(err.Error(), "free some space") {
		t.Errorf("a full disk: %v", err)
	}
}

// What is skipped costs words their time, heard or not.
func TestSkippedWordsTakeTheirTime(t *testing.T) {
	a, b := NewMixer(Settings{}), NewMixer(Settings{})
	null := NewNull(b)
	clip := sine(440, 0.55, -12)
	a.Say(clip)
	b.Say(clip)
	for range 8 {
		pull(a, 0.1)
		if err := null.Advance(0.1); err != nil {
			t.Fatal(err)
		}
		on, left := a.Speaking()
		if on2, left2 := b.Speaking(); on != on2 || left != left2 {
			t.Fatalf("heard: %v %d, skipped: %v %d", on, left, on2, left2)
		}
	}
}

// The same night sounds the same, sample for sample, however it is pulled.
func TestTheSameNightSoundsTheSame(t *testing.T) {
	play := func(parts []int) []float64 {
		d := NewMixer(Settings{})
		var out []float64
		for step := range 20 {
			d.SetTone(Tone{Trim, 5 / float64(step+1), 0.2})
			if step%7 == 0 {
				d.Play(StarFound)
			}
			for _, n := range parts {
				buf := make([][2]float64, n)
				d.Stream(buf)
				for _, v := range buf {
					out = append(out, v[0])
				}
			}
		}
		return out
	}
	a, b := play([]int{4800}), play([]int{4800})
	for i := range a {
		if a[i] != b[i] {
			t.Fatalf("sample %d differs", i)
		}
	}
}
