package audio

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"os"

	"github.com/faiface/beep"
)

// File is a sink that writes a WAV file: 16 bit, two channels alike, 48 kHz. The
// first sample that is pulled after NewFile is the file's first. The header is kept up to
// date, so that after a crash the file can be played, but for its last seconds.
type File struct {
	source  beep.Streamer
	file    *os.File
	out     *bufio.Writer
	step    stepper
	frames  int64 // written
	patched int64 // of them, those that the header knows
	buf     [1024][2]float64
	bytes   []byte
}

const (
	wavHeader   = 44
	frameBytes  = 4
	patchFrames = 5 * Rate
	// A WAV file counts its bytes in 32 bits: 6.2 hours.
	maxFrames = (1<<32 - 1 - wavHeader) / frameBytes
)

// NewFile creates the file, replacing what was there. A named pipe would wait for a reader,
// and has no place for a header that changes.
func NewFile(source beep.Streamer, path string) (*File, error) {
	if info, err := os.Stat(path); err == nil && info.Mode()&os.ModeNamedPipe != 0 {
		return nil, fmt.Errorf("create sound file: %s is a pipe; give another path", path)
	}
	f, err := os.Create(path)
	if err != nil {
		return nil, fmt.Errorf("create sound file: %w; give a path that can be written", err)
	}
	w := &File{source: source, file: f, out: bufio.NewWriterSize(f, 1<<16)}
	w.bytes = make([]byte, 0, len(w.buf)*frameBytes)
	if _, err := w.out.Write(header(0)); err != nil {
		return nil, errors.Join(w.failed(err), f.Close())
	}
	return w, nil
}

// header is a WAV header for so many frames.
func header(frames int64) []byte {
	size := uint32(frames * frameBytes)
	h := make([]byte, 0, wavHeader)
	h = append(h, "RIFF"...)
	h = binary.LittleEndian.AppendUint32(h, wavHeader-8+size)
	h = append(h, "WAVEfmt "...)
	h = binary.LittleEndian.AppendUint32(h, 16)
	h = binary.LittleEndian.AppendUint16(h, 1) // PCM
	h = binary.LittleEndian.AppendUint16(h, 2) // channels
	h = binary.LittleEndian.AppendUint32(h, Rate)
	h = binary.LittleEndian.AppendUint32(h, Rate*frameBytes)
	h = binary.LittleEndian.AppendUint16(h, frameBytes)
	h = binary.LittleEndian.AppendUint16(h, 16)
	h = append(h, "data"...)
	return binary.LittleEndian.AppendUint32(h, size)
}

// Advance writes that much of the sound.
func (w *File) Advance(seconds float64) error {
	for n := w.step.step(seconds); n > 0; {
		part := w.buf[:min(n, len(w.buf))]
		if w.frames+int64(len(part)) > maxFrames {
			return fmt.Errorf("write sound file %s: a WAV file holds six hours; begin another", w.file.Name())
		}
		if n, ok := w.source.Stream(part); !ok || n < len(part) {
			clear(part[n:]) // what has ended is silent
		}
		w.bytes = w.bytes[:0]
		for _, v := range part {
			w.bytes = binary.LittleEndian.AppendUint16(w.bytes, uint16(toInt16(v[0])))
			w.bytes = binary.LittleEndian.AppendUint16(w.bytes, uint16(toInt16(v[1])))
		}
		if _, err := w.out.Write(w.bytes); err != nil {
			return w.failed(err)
		}
		w.frames += int64(len(part))
		n -= len(part)
	}
	if w.frames-w.patched >= patchFrames {
		return w.patch()
	}
	if err := w.out.Flush(); err != nil { // so that the file can be read while it grows
		return w.failed(err)
	}
	return nil
}

// patch writes out what is buffered and then the header that counts it.
func (w *File) patch() error {
	if err := w.out.Flush(); err != nil {
		return w.failed(err)
	}
	if _, err := w.file.WriteAt(header(w.frames), 0); err != nil {
		return w.failed(err)
	}
	w.patched = w.frames
	return nil
}

func (w *File) failed(err error) error {
	return fmt.Errorf("write sound file: %w; free some space or give another path", err)
}

// Delay is zero: in a file the sample's time is when it is heard.
func (w *File) Delay() float64 { return 0 }

// Close completes the header and the file.
func (w *File) Close() error { return errors.Join(w.patch(), w.file.Close()) }

// fullScale is what 1 is in 16 bits.
const fullScale = 32767

// toInt16 rounds a sample to 16 bits; beyond full scale it is clipped.
func toInt16(v float64) int16 {
	return int16(math.Round(min(max(v*fullScale, -fullScale), fullScale)))
}
