package voice

import (
	"bytes"
	"cmp"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"

	"halocue/internal/plain"
)

// Command is a voice that runs a program for each text. No shell is involved.
type Command struct {
	// Argv is the program and its arguments. {text} in an argument is replaced by
	// the text, which goes to the standard input otherwise; {out} by the name of a
	// file for the WAV, which is read from the standard output otherwise.
	Argv    []string
	Remedy  string        // what to do where it is missing
	Timeout time.Duration // for one text; 0 is 2 seconds
}

// longestSpeech bounds what an engine may send, bytes: two minutes at 48 kHz. At a lower
// rate these are fewer.
const longestSpeech = 2 * 60 * 48000 * 2

// longestComplaint bounds what it may say is wrong, bytes.
const longestComplaint = 64 << 10

// Speak runs the program. A program that is missing (ErrNoEngine), hangs or sends
// something that is no WAV is an error that ends with the remedy; where ctx ends it
// first the error is that of ctx, and needs none.
func (c Command) Speak(ctx context.Context, text string) (PCM, error) {
	if len(c.Argv) == 0 {
		return PCM{}, errors.New("speaking: no program is named; " + c.Remedy)
	}
	wav, err := c.run(ctx, text)
	if ctx.Err() != nil {
		return PCM{}, fmt.Errorf("speaking was ended: %w", ctx.Err())
	}
	if err != nil {
		return PCM{}, fmt.Errorf("speaking: %w; %s", err, c.Remedy)
	}
	pcm, err := decode(wav)
	if err == nil && len(pcm.Samples) == 0 {
		err = errors.New("it said nothing")
	}
	if err != nil {
		return PCM{}, fmt.Errorf("speaking: %s: %w; %s", c.Argv[0], err, c.Remedy)
	}
	return pcm, nil
}

// run gives the program the text and returns what it wrote.
func (c Command) run(ctx context.Context, text string) (wav []byte, err error) {
	limit := cmp.Or(c.Timeout, 2*time.Second)
	ctx, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	args, input, file := slices.Clone(c.Argv[1:]), text, ""
	for i, arg := range args {
		if strings.Contains(arg, "{text}") {
			// A name that begins with a dash must not become an option.
			args[i], input = strings.ReplaceAll(arg, "{text}", strings.TrimLeft(text, "- ")), ""
		}
		if strings.Contains(arg, "{out}") {
			if file == "" {
				dir, err := os.MkdirTemp("", "voice")
				if err != nil {
					return nil, fmt.Errorf("making room for the words: %w", err)
				}
				defer os.RemoveAll(dir)
				file = filepath.Join(dir, "words.wav")
			}
			args[i] = strings.ReplaceAll(args[i], "{out}", file)
		}
	}
	cmd := exec.CommandContext(ctx, c.Argv[0], args...)
	cmd.Stdin = strings.NewReader(input)
	cmd.WaitDelay = 200 * time.Millisecond
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} // what it starts ends with it
	end := func() error { return syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) }
	cmd.Cancel = end
	out, complaint := limited{most: longestSpeech}, limited{most: longestComplaint}
	cmd.Stdout, cmd.Stderr = &out, &complaint
	err = cmd.Run()
	if cmd.Process != nil {
		_ = end() // as a rule nothing is left
	}
	switch {
	case errors.Is(err, exec.ErrNotFound), errors.Is(err, os.ErrNotExist):
		return nil, fmt.Errorf("%w: %s", ErrNoEngine, c.Argv[0])
	case errors.Is(ctx.Err(), context.DeadlineExceeded):
		return nil, fmt.Errorf("%s did not answer within %v", c.Argv[0], limit)
	case err != nil:
		return nil, fmt.Errorf("%s: %w %s", c.Argv[0], err, plain.Text(strings.TrimSpace(complaint.buffer.String()), 300))
	}
	if file == "" {
		return out.buffer.Bytes(), nil
	}
	f, err := plain.Open(file)
	if err != nil {
		return nil, fmt.Errorf("%s wrote nothing: %w", c.Argv[0], err)
	}
	defer f.Close()
	wav, err = io.ReadAll(io.LimitReader(f, longestSpeech))
	if err != nil {
		return nil, fmt.Errorf("reading what %s wrote: %w", c.Argv[0], err)
	}
	return wav, nil
}

// limited is a buffer that takes no more than most bytes. It has Write alone: the
// buffer's own ReadFrom, which copying prefers, knows no limit.
type limited struct {
	buffer bytes.Buffer
	most   int
}

func (l *limited) Write(p []byte) (int, error) {
	if l.buffer.Len()+len(p) > l.most {
		return 0, errors.New("it does not end")
	}
	return l.buffer.Write(p)
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
			if size == 0 { // a header that was never completed
				size = len(body)
			}
			if size = min(size, len(body)); size > longestSpeech/48000*rate*channels {
				return PCM{}, errors.New("it does not end")
			}
			return PCM{Rate: rate, Samples: samples(body[:size], channels)}, nil
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
