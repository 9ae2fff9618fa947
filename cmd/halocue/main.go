// Halocue watches a defocused star and says which knob of a Newtonian's mirror
// to turn. This package only connects the parts.
package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"syscall"
)

// The exit statuses, which scripts may rely on.
const (
	statusOK    = 0 // done, or ended by the person
	statusError = 1 // something failed; the message says what to do
	statusUsage = 2 // the command line was not understood
	statusCut   = 130
)

func main() {
	a := &app{stdin: os.Stdin, stdout: os.Stdout, stderr: os.Stderr, env: os.Environ()}
	ctx := interruptible(func() {
		a.cutShort()
		os.Exit(statusCut)
	})
	os.Exit(a.run(ctx, os.Args[1:]))
}

// interruptible returns a context that ends with the first Ctrl-C or SIGTERM, so
// that the sentence ends and the files are closed; the second one cuts short.
func interruptible(cut func()) context.Context {
	ctx, cancel := context.WithCancel(context.Background())
	signals := make(chan os.Signal, 2)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM)
	go func() {
		<-signals
		cancel()
		<-signals
		cut()
	}()
	return ctx
}

// run is the whole program but for the operating system: it returns the exit status.
func (a *app) run(ctx context.Context, args []string) int {
	root := newRoot(a)
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	var usage usageError
	switch {
	case err == nil, ctx.Err() != nil && errors.Is(err, context.Canceled):
		return statusOK
	case errors.As(err, &usage):
		fmt.Fprintf(a.stderr, "halocue: %v\nhalocue help shows what there is.\n", err)
		return statusUsage
	default:
		fmt.Fprintf(a.stderr, "halocue: %v\n", err)
		return statusError
	}
}
