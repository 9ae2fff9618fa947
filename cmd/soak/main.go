// Soak guides nights full of faults on the virtual telescope, for as long as it is
// told, and prints what came out: see docs/faults.md.
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"

	"halocue/internal/simulate/soak"
)

func main() {
	var o soak.Options
	flag.Float64Var(&o.Hours, "hours", 8, "simulated hours")
	flag.Uint64Var(&o.Seed, "seed", 1, "chance")
	flag.IntVar(&o.Pixels, "pixels", 20, "one night of so many is drawn, sent and measured; 0 none")
	flag.Parse()
	if err := run(o); err != nil {
		fmt.Fprintln(os.Stderr, "soak:", err)
		os.Exit(1)
	}
}

func run(o soak.Options) error {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	dir, err := os.MkdirTemp("", "soak")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	o.Dir, o.Log = dir, os.Stderr
	f, err := soak.Run(ctx, o)
	if err != nil {
		return err
	}
	fmt.Print(f)
	return f.Verdict()
}
