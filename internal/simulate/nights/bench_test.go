package nights

import (
	"cmp"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"halocue/internal/cue"
	"halocue/internal/observe"
	"halocue/internal/simulate/telescope"
)

// asked is which nights BenchmarkNights runs.
var asked args

func init() {
	flag.Uint64Var(&asked.first, "first", 1, "`SEED` of the first night")
	flag.IntVar(&asked.count, "count", 100, "how many nights of each frame size")
	flag.StringVar(&asked.sizes, "sizes", "1280x960,960x720", "frame sizes, px")
	flag.Float64Var(&asked.pixel, "pixel-um", 5, "pixel size, micrometres")
	flag.Float64Var(&asked.fps, "fps", 10, "frames a second")
	flag.StringVar(&asked.out, "out", "none", "`FOLDER` for nights.md and nights.svg, by its whole path, or none")
	flag.Uint64Var(&asked.one, "night", 0, "repeat the night of this `SEED` cue by cue, in the first of the sizes")
	flag.StringVar(&asked.person, "person", "", "whose hands: `NAME` of a person, mixed, or empty as the night was drawn")
	flag.BoolVar(&asked.list, "list", false, "one line for each night")
	flag.BoolVar(&asked.untracked, "untracked", false, "no mount tracks: the star drifts by 15 arcsec a second")
	flag.BoolVar(&asked.oneSided, "one-sided", false, "focusers that reach one side of focus only")
	flag.Float64Var(&asked.current, "current", 0, "air in the tube that leans the shadow slowly: `TOLERANCES` RMS along each axis, over 90 seconds")
	flag.Float64Var(&asked.sag, "sag", 0, "a drawtube that sags: `TOLERANCES` RMS along each axis, anew on each racking through focus")
}

// BenchmarkNights runs the coach through many nights and tells how they went: a table, a plot,
// and each night that did not end well with its seed; or it repeats one night cue by cue.
// docs/hands.md has commands.
func BenchmarkNights(b *testing.B) {
	for range b.N {
		fmt.Println()
		if err := asked.run(os.Stdout); err != nil {
			b.Fatal(err)
		}
	}
}

type args struct {
	first, one uint64
	count      int
	sizes, out string
	person     string
	pixel, fps float64
	current    float64
	sag        float64
	oneSided   bool
	untracked  bool
	list       bool
}

// options returns how the nights of one frame size are run.
func (a args) options(size string) (Options, error) {
	o := Options{OneSided: a.oneSided, FPS: a.fps, Person: a.person}
	o.Change = func(n *telescope.Night) {
		if a.untracked {
			Untrack(n)
		}
		n.Sky.Current, n.Sky.CurrentTau = a.current*n.Telescope.Tolerance(), 90
		n.Sag = a.sag * n.Telescope.Tolerance()
	}
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
		rs, err := RunAll(a.first, a.count, o)
		if err != nil {
			return err
		}
		groups = append(groups, group{size, rs})
		fmt.Fprintf(both, "%s, pixels of %g um, seeds %d to %d\n\n", size, a.pixel, a.first, a.first+uint64(a.count)-1)
		if err := Summarise(rs).Write(both); err != nil {
			return err
		}
		if a.person != "" {
			if err := WriteByPerson(both, rs); err != nil {
				return err
			}
		}
		if a.list {
			for _, r := range rs {
				fmt.Fprintf(both, "night %d, %s: %s after %.0f s, %d turns, %d pushes, %d said again, %d lost\n",
					r.Seed, cmp.Or(r.Person, "as drawn"), r.Result, r.Seconds, r.Turns, r.Recentres, r.Repeated, r.Lost)
				for _, h := range r.Hasty {
					fmt.Fprintln(both, "    "+h)
				}
			}
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
func failures(w io.Writer, rs []Result) {
	for _, r := range rs {
		if r.Result == cue.Aligned && !r.False {
			continue
		}
		what := r.Result
		if what == "" {
			what = "unfinished"
		}
		if r.False {
			what += " (FALSE)"
		}
		fmt.Fprintf(w, "seed %d, %s: %s after %.0f s, truly %.2f tolerances off; %.0f mm F/%.1f, %.1f arcsec\n", r.Seed, cmp.Or(r.Person, "as drawn"), what, r.Seconds, r.Error,
			r.Night.Telescope.Aperture, r.Night.Telescope.FocalRatio(), r.Night.Sky.Seeing)
	}
}

// show repeats one night, with the truth beside what is believed.
func show(w io.Writer, seed uint64, o Options) error {
	n := Draw(seed, o.Draw)
	if o.Change != nil {
		o.Change(&n)
	}
	tol := n.Telescope.Tolerance()
	fmt.Fprintf(w, "%.0f mm F/%.2f, tolerance %.2f mm, seeing %.1f arcsec, drift %.3f mm/s, locks %v, backlash %.3f turns, ring %.0f px\n",
		n.Telescope.Aperture, n.Telescope.FocalRatio(), tol, n.Sky.Seeing, n.Mount.Drift, n.Cell.Locks, n.Cell.Backlash, n.RadiusPX(n.Z))
	r, err := Run(seed, o, func(v observe.Sight, tr telescope.Truth, a cue.Advice) {
		b := a.Estimate
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
