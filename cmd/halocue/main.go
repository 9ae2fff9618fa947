// Halocue watches a defocused star and says which knob of a Newtonian's mirror
// to turn. This package is the command line: flags, files and exit statuses, one file a
// command.
package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"runtime"
	"runtime/debug"
	"syscall"
	"time"

	"halocue/internal/plain"
	"halocue/internal/run/parts"
)

// The exit statuses, which scripts may rely on.
const (
	statusOK    = 0 // done, or ended by the person
	statusError = 1 // something failed; the message says what to do
	statusUsage = 2 // the command line was not understood
	statusCut   = 130
)

// heap is the soft memory limit, bytes, unless GOMEMLIMIT gives one: beyond it garbage is
// collected at once. Else large pictures would leave as much garbage as they take.
const heap = 160 << 20

// spare is the garbage collector's GOGC, per cent, unless the environment gives one. It is
// low because a small board has little memory. A night makes little garbage, so that
// collecting it often costs little.
const spare = 20

// threads is how many goroutines run at once at least, unless GOMAXPROCS says otherwise:
// on one processor the sound then waits for the kernel, which lets it in before what has
// run long, and not for Go, which takes 10 ms to interrupt a measurement.
const threads = 2

func main() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(spare)
	}
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(heap)
	}
	if os.Getenv("GOMAXPROCS") == "" {
		runtime.GOMAXPROCS(max(runtime.GOMAXPROCS(0), threads))
	}
	a := &app{parts.World{
		Stdin: os.Stdin, Stdout: &plain.Writer{To: os.Stdout}, Stderr: &plain.Writer{To: os.Stderr, Remarks: true}, Env: os.Environ(),
	}}
	ctx := interruptible(func() {
		a.cutShort()
		os.Exit(statusCut)
	})
	os.Exit(a.run(ctx, os.Args[1:]))
}

// interruptible returns a context that ends at the first Ctrl-C or SIGTERM, or when the
// terminal is closed, so that the sentence can end and the files are closed. It calls cut
// at the second signal, or 2.9 s after the first.
func interruptible(cut func()) context.Context {
	ctx, cancel := context.WithCancel(context.Background())
	signals, hung := make(chan os.Signal, 2), make(chan os.Signal, 1)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM)
	if !signal.Ignored(syscall.SIGHUP) { // as nohup has it
		signal.Notify(hung, syscall.SIGHUP)
	}
	go func() {
		select {
		case <-signals:
		case <-hung: // the kernel and the shell both send it
		}
		cancel()
		select {
		case <-signals:
		case <-time.After(2900 * time.Millisecond):
		}
		cut()
	}()
	return ctx
}

// outlivePipe lets a night go on when the program that read its words from a pipe has ended.
func outlivePipe() { signal.Notify(make(chan os.Signal, 1), syscall.SIGPIPE) }

// orCancelled does work that only reads and prints. When the context ends it returns
// without waiting for the work, because one large frame takes long.
func orCancelled(ctx context.Context, work func() error) error {
	done := make(chan error, 1)
	go func() { done <- work() }()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
		return ctx.Err()
	}
}

// run runs a command line and returns the exit status.
func (a *app) run(ctx context.Context, args []string) int {
	root := newRoot(a)
	root.SetArgs(args)
	cmd, err := root.ExecuteContextC(ctx)
	switch {
	case err == nil, ctx.Err() != nil && errors.Is(err, context.Canceled):
		return statusOK
	case isUsage(err):
		more := "halocue help shows what there is"
		if cmd != root && cmd.Name() != "help" {
			more = cmd.CommandPath() + " --help tells about it"
		}
		a.Complain(err)
		fmt.Fprintf(a.Stderr, "%s.\n", more)
		return statusUsage
	default:
		a.Complain(err)
		return statusError
	}
}
