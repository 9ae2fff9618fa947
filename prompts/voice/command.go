package voice

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"os/exec"
	"strings"
	"time"
)

// Command is a voice that runs a program for each text: the text on its standard
// input, WAV on its standard output. No shell is involved.
type Command struct {
	Argv    []string      // program and arguments
	Remedy  string        // what to do where it is missing
	Timeout time.Duration // for one text; 0 is 5 seconds
}

// longestSpeech bounds what an engine may send, bytes: two minutes at 48 kHz.
const longestSpeech = 2 * 60 * 48000 * 2

// Speak runs the program. A program that is missing (ErrNoEngine), hangs or sends
// something that is no WAV is an error that ends with the remedy.
func (c Command) Speak(ctx context.Context, text string) (PCM, error) {
	limit := c.Timeout
	if limit == 0 {
		limit = 5 * time.Second
	}
	ctx, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	cmd := exec.CommandContext(ctx, c.Argv[0], c.Argv[1:]...)
	cmd.Stdin = strings.NewReader(text)
	cmd.WaitDelay = 200 * time.Millisecond
	var out limited
	var complaint limited
	cmd.Stdout, cmd.Stderr = &out, &complaint
	err := cmd.Run()
	switch {
	case errors.Is(err, exec.ErrNotFound):
		return PCM{}, fmt.Errorf("speaking: %w: %s; %s", ErrNoEngine, c.Argv[0], c.Remedy)
	case ctx.Err() == context.DeadlineExceeded:
		return PCM{}, fmt.Errorf("speaking: %s did not answer within %v; %s", c.Argv[0], limit, c.Remedy)
	case err != nil:
		return PCM{}, fmt.Errorf("speaking: %s: %w %s; %s", c.Argv[0], err, strings.TrimSpace(string(complaint.Bytes())), c.Remedy)
	}
	pcm, err := decode(out.Bytes())
	if err != nil {
		return PCM{}, fmt.Errorf("speaking: %s: %w; %s", c.Argv[0], err, c.Remedy)
	}
	return pcm, nil
}

// limited is a buffer that takes no more than an engine may send.
type limited struct{ bytes.Buffer }

func (l *limited) Write(p []byte) (int, error) {
	if l.Len()+len(p) > longestSpeech {
		return 0, errors.New("it does not end")
	}
	return l.Buffer.Write(p)
}

// decode reads 16-bit WAV as a program pipes it: the lengths in its header are
// not to be trusted, since it did not know them when it began.
func decode(wav []byte) (PCM, error) {
	bad := errors.New("what it wrote is not 16-bit WAV")
	if len(wav) < 44 || string(wav[:4]) != "RIFF" || string(wav[8:12]) != "WAVE" {
		return PCM{}, bad
	}
	var rate, channels int
	for at := 12; at+8 <= len(wav); {
		id, size, body := string(wav[at:at+4]), int(binary.LittleEndian.Uint32(wav[at+4:])), wav[at+8:]
		switch id {
		case "fmt ":
			if len(body) < 16 || binary.LittleEndian.Uint16(body[14:]) != 16 {
				return PCM{}, bad
			}
			channels = int(binary.LittleEndian.Uint16(body[2:]))
			rate = int(binary.LittleEndian.Uint32(body[4:]))
		case "data":
			if channels < 1 || channels > 8 || rate < 4000 || rate > 192000 {
				return PCM{}, bad
			}
			return PCM{rate, samples(body[:min(size, len(body))], channels)}, nil
		}
		at += 8 + size + size%2
		if size < 0 || at < 0 {
			break
		}
	}
	return PCM{}, bad
}

// samples takes the first channel.
func samples(body []byte, channels int) []int16 {
	out := make([]int16, len(body)/(2*channels))
	for i := range out {
		out[i] = int16(binary.LittleEndian.Uint16(body[2*channels*i:]))
	}
	return out
}
