// Nights runs the coach through many virtual nights, without a pixel drawn, and
// tells how they went: a table, a plot, and each night that did not end well with
// its seed; or it repeats one night cue by cue.
package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"halocue/internal/coach"
	"halocue/internal/coach/nights"
	"halocue/internal/virtual"
)

func main() {
	var a args
	flag.Uint64Var(&a.first, "first", 1, "`SEED` of the first night")
	flag.IntVar(&a.count, "count", 1000, "how many nights of each frame size")
	flag.StringVar(&a.sizes, "sizes", "1280x960,960x720", "frame sizes, px")
	flag.Float64Var(&a.pixel, "pixel-um", 5, "pixel size, micrometres")
	flag.Float64Var(&a.fps, "fps", 10, "frames a second")
	flag.StringVar(&a.out, "out", "out", "`FOLDER` for nights.md and nights.svg, or none")
	flag.Uint64Var(&a.one, "night", 0, "repeat the night of this `SEED` cue by cue, in the first of the sizes")
	flag.BoolVar(&a.oneSided, "one-sided", false, "focusers that reach one side of focus only")
	flag.Parse()
	if err := a.run(os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "nights:", err)
		os.Exit(1)
	}
}

type args struct {
	first, one uint64
	count      int
	sizes, out string
	pixel, fps float64
	oneSided   bool
}

// options returns how the nights of one frame size are run.
func (a args) options(size string) (nights.Options, error) {
	o := nights.Options{OneSided: a.oneSided, FPS: a.fps}
	o.Draw.Pixel = a.pixel / 1000
	if _, err := fmt.Sscanf(size, "%dx%d", &o.Draw.Width, &o.Draw.Height); err != nil || o.Draw.Width < 1 || o.Draw.Height < 1 {
		return o, fmt.Errorf("frame size %q: write it like 1280x960", size)
	}
	return o, nil
}

func (a args) run(w io.Writer) error {
	sizes := strings.Split(a.sizes, ",")
	if a.one > 0 {
		o, err := a.options(sizes[0])
		if err != nil {
			return err
		}
		return show(w, a.one, o)
	}
	if a.count < 1 {
		return errors.New("ask for one night at least")
	}
	var page strings.Builder
	both := io.MultiWriter(w, &page)
	var groups []group
	for _, size := range sizes {
		o, err := a.options(size)
		if err != nil {
			return err
		}
		rs, err := nights.RunAll(a.first, a.count, o)
		if err != nil {
			return err
		}
		groups = append(groups, group{size, rs})
		fmt.Fprintf(both, "%s, pixels of %g um, seeds %d to %d\n\n", size, a.pixel, a.first, a.first+uint64(a.count)-1)
		if err := nights.Summarise(rs).Write(both); err != nil {
			return err
		}
		failures(both, rs)
		fmt.Fprintln(both)
	}
	if a.out == "none" {
		return nil
	}
	if err := os.MkdirAll(a.out, 0o755); err != nil {
		return fmt.Errorf("making the folder for the table: %w", err)
	}
	if err := os.WriteFile(filepath.Join(a.out, "nights.md"), []byte(page.String()), 0o644); err != nil {
		return fmt.Errorf("writing the table: %w", err)
	}
	return draw(filepath.Join(a.out, "nights.svg"), groups)
}

// failures names every night that did not end aligned.
func failures(w io.Writer, rs []nights.Result) {
	for _, r := range rs {
		if r.Result == coach.Aligned && !r.False {
			continue
		}
		what := r.Result
		if what == "" {
			what = "unfinished"
		}
		if r.False {
			what += " (FALSE)"
		}
		fmt.Fprintf(w, "seed %d: %s after %.0f s, truly %.2f tolerances off; %.0f mm F/%.1f, %.1f arcsec\n", r.Seed, what, r.Seconds, r.Error,
			r.Night.Telescope.Aperture, r.Night.Telescope.FocalRatio(), r.Night.Sky.Seeing)
	}
}

// show repeats one night, with the truth beside what is believed.
func show(w io.Writer, seed uint64, o nights.Options) error {
	n := virtual.Draw(seed, o.Draw)
	tol := n.Telescope.Tolerance()
	fmt.Fprintf(w, "%.0f mm F/%.2f, tolerance %.2f mm, seeing %.1f arcsec, drift %.3f mm/s, locks %v, backlash %.3f turns, ring %.0f px\n",
		n.Telescope.Aperture, n.Telescope.FocalRatio(), tol, n.Sky.Seeing, n.Mount.Drift, n.Cell.Locks, n.Cell.Backlash, n.RadiusPX(n.Z))
	r, err := nights.Run(seed, o, func(v virtual.View, tr virtual.Truth, a coach.Advice) {
		b := a.Belief
		for _, c := range a.Cues {
			fmt.Fprintf(w, "%6.1f %-11s %-12s %-10s %-8s %.3f  axis true %5.2f %5.2f, believed %5.2f %5.2f +- %.2f, bound %5.2f, %7s %.2f, z %5.1f, star %5.2f %5.2f: %s\n",
				v.T, a.Stage, c.Code, c.Knob, c.Direction, c.Turns, tr.Axis.X, tr.Axis.Y, b.Axis.X, b.Axis.Y,
				b.AxisSigma.X, b.Bound, b.Side, b.SideChance, tr.Z, b.Star.X, b.Star.Y, c.Reason)
		}
	})
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(w, "%s, truly %.2f tolerances off, in %.0f s, with %d turn cues and %d re-centrings\n", r.Result, r.Error, r.Seconds, r.Turns, r.Recentres)
	return err
}
