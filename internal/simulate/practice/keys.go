package practice

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"golang.org/x/sys/unix"

	"halocue/audio/command"
	"halocue/internal/cue"
	"halocue/internal/simulate/virtual"
	"halocue/prompts"
	"halocue/vision"
	"halocue/vision/frame"
)

const (
	keyTurn     = 1.0 / 32               // of a knob, at one key
	oneMovement = 200 * time.Millisecond // the same key within this time goes on with the movement
	longestHold = 16                     // keys: a movement begins at the latest after so many
)

const tightens, loosens = "qwe", "asd" // from left to right

// keys turns letters into what a hand does.
type keys struct {
	hear     func(cue.Instruction)
	knobs    []cue.Knob // from left to right
	commands chan<- command.Command
	touched  chan struct{} // closed at the first key
	complain io.Writer
	once     sync.Once
	strange  sync.Once // a key that is none is answered once
	turns    atomic.Int64
}

// taught are the words that say what the keys do.
func (k *keys) taught() (cues []prompts.Cue) {
	for i, knob := range k.knobs {
		cues = append(cues, prompts.Cue{Code: "practice-knob", Knob: knob.Name, Args: map[string]any{
			"tighten": strings.ToUpper(tightens[i : i+1]), "loosen": strings.ToUpper(loosens[i : i+1]),
		}})
	}
	return append(cues, prompts.Cue{Code: "practice-press"}, prompts.Cue{Code: "practice-keys"})
}

// line does what a line of one letter says, as often as it stands there. A new
// turn replaces the one under way, as with real hands.
func (k *keys) line(text string) {
	text = strings.ToLower(strings.TrimSpace(text))
	if text == "help" {
		text = "?"
	}
	if text == "" {
		return
	}
	k.once.Do(func() { close(k.touched) })
	if strings.Trim(text, text[:1]) != "" || !k.movement(text[:1], len(text)) {
		k.strange.Do(func() {
			k.movement("?", 1) // eyes are shut: the keys are said
			fmt.Fprintf(k.complain, "halocue: %q is not one letter, or one letter several times; a question mark says the keys\n", text)
		})
	}
}

// movement does what a letter says that came so many times; false if it says nothing.
func (k *keys) movement(letter string, times int) bool {
	if c, ok := map[string]command.Command{"?": command.Help, "r": command.Repeat}[letter]; ok {
		select {
		case k.commands <- c:
		default: // a handful waits already
		}
		return true
	}
	in, ok := k.instruction(letter, times)
	if in.Action == "turn" {
		k.turns.Add(int64(times))
	}
	if ok {
		k.hear(in)
	}
	return ok
}

func (k *keys) instruction(letter string, times int) (cue.Instruction, bool) {
	turns := float64(times) * keyTurn
	if i := strings.Index(tightens, letter); i >= 0 {
		return cue.Instruction{Action: "turn", Knob: k.knobs[i].Name, Direction: "tighten", Turns: turns}, true
	}
	if i := strings.Index(loosens, letter); i >= 0 {
		return cue.Instruction{Action: "turn", Knob: k.knobs[i].Name, Direction: "loosen", Turns: turns}, true
	}
	in, ok := map[string]cue.Instruction{
		"c": {Action: "recentre"},
		"o": {Action: "other-side"},
		"g": {Action: "defocus", Direction: "more"},
		"h": {Action: "defocus", Direction: "less"},
		"x": {Action: "stop"},
	}[letter]
	return in, ok
}

// listen takes keys from a terminal one by one, and lines from anything else, until
// ctx ends. Reading cannot be woken: that goroutine ends with the input, or with
// the program. giveBack makes the terminal what it was.
func (k *keys) listen(ctx context.Context, in io.Reader) (giveBack func(), err error) {
	none := func() {}
	if f, ok := in.(*os.File); ok {
		fd := int(f.Fd())
		if was, err := unix.IoctlGetTermios(fd, unix.TCGETS); err == nil { // else it is no terminal
			single := *was
			single.Lflag &^= unix.ICANON | unix.ECHO // Ctrl-C works on
			single.Cc[unix.VMIN], single.Cc[unix.VTIME] = 1, 0
			if err := unix.IoctlSetTermios(fd, unix.TCSETS, &single); err != nil {
				return none, fmt.Errorf("asking the terminal for single keys: %w; pipe lines of one letter in instead", err)
			}
			go k.press(ctx, keysOf(ctx, f))
			return func() { _ = unix.IoctlSetTermios(fd, unix.TCSETS, was) }, nil // the terminal is gone if it fails
		}
	}
	go func() {
		for s := bufio.NewScanner(in); s.Scan() && ctx.Err() == nil; {
			k.line(s.Text())
		}
	}()
	return none, nil
}

// keysOf passes single bytes on.
func keysOf(ctx context.Context, in io.Reader) <-chan byte {
	keys := make(chan byte)
	go func() {
		defer close(keys)
		var b [1]byte
		for {
			if _, err := io.ReadFull(in, b[:]); err != nil {
				return
			}
			select {
			case keys <- b[0]:
			case <-ctx.Done():
				return
			}
		}
	}()
	return keys
}

// press gathers the same key, pressed several times quickly or held, into one movement.
func (k *keys) press(ctx context.Context, keys <-chan byte) {
	run := ""
	do := func() { k.line(run); run = "" }
	for {
		var over <-chan time.Time
		if run != "" {
			over = time.After(oneMovement)
		}
		select {
		case b, ok := <-keys:
			if !ok {
				do()
				return
			}
			key := string(rune(b))
			if run != "" && !strings.HasPrefix(run, key) {
				do()
			}
			if run += key; !strings.Contains(tightens+loosens, strings.ToLower(key)) || len(run) >= longestHold {
				do() // a stop does not wait
			}
		case <-over:
			do()
		case <-ctx.Done():
			return
		}
	}
}

// scripted has the lines done between frames; a number waits.
type scripted struct {
	vision.Source
	keys  *keys
	lines *bufio.Scanner
	wait  int // frames
}

func (s *scripted) Next(ctx context.Context) (*frame.Frame, error) {
	for s.wait == 0 {
		if !s.lines.Scan() {
			return nil, io.EOF
		}
		text := strings.TrimSpace(s.lines.Text())
		if seconds, err := strconv.ParseFloat(text, 64); err == nil {
			s.wait = int(min(max(seconds, 0), 3600) * virtual.FPS)
			continue
		}
		s.keys.line(text)
		s.wait = virtual.FPS // a second for a line
	}
	s.wait--
	return s.Source.Next(ctx)
}
