package parts

import (
	"fmt"
	"io"
	"os"
	"sync/atomic"
	"time"

	"golang.org/x/sys/unix"

	"halocue/config"
	"halocue/internal/plain"
	"halocue/internal/platform/board"
)

// World is what lies outside the program: streams, environment, clock. Tests have their
// own.
type World struct {
	Stdin          io.Reader
	Stdout, Stderr io.Writer
	Env            []string                     // as os.Environ gives it
	Root           string                       // of the kernel's files; "" is /
	Clock          func() time.Time             // nil is time.Now
	Quiet          bool                         // what is spoken is not printed too
	Dark           atomic.Pointer[board.Lights] // that are out, or nil
}

// Now is the time on the wall.
func (w *World) Now() time.Time {
	if w.Clock == nil {
		return time.Now()
	}
	return w.Clock()
}

// Complain prints an error that is no reason to stop. It prints nothing for nil.
func (w *World) Complain(err error) {
	if err != nil {
		fmt.Fprintf(w.Stderr, "halocue: %v\n", err)
	}
}

// AtTerminal reports whether a person reads what is printed, and can answer.
func (w *World) AtTerminal() bool {
	for _, end := range []any{w.Stdin, w.Stdout} {
		if p, ok := end.(*plain.Writer); ok {
			end = p.To
		}
		f, ok := end.(*os.File)
		if !ok {
			return false
		}
		if _, err := unix.IoctlGetTermios(int(f.Fd()), unix.TCGETS); err != nil {
			return false
		}
	}
	return true
}

// Shown returns where to print what is also spoken: to, or nowhere with --quiet and a voice
// that is heard.
func (w *World) Shown(c config.Config, to io.Writer) io.Writer {
	if w.Quiet && c.Sound.Output != "none" && c.Voice.Engine != "none" {
		return io.Discard
	}
	return to
}

// RestoreLights makes the computer's lights what they were, if they are out: it is
// all that cannot wait for the end of a program that is cut short.
func (w *World) RestoreLights() error {
	if lights := w.Dark.Load(); lights != nil {
		return lights.Restore()
	}
	return nil
}

// ClockSince is the first year that a computer's clock can rightly show: no halocue is
// older.
const ClockSince = 2025
