// Command nights runs the coach through many virtual nights and tells how they
// went, or one night cue by cue.
package main

import (
	"flag"
	"fmt"
	"os"

	"halocue/internal/coach"
	"halocue/internal/coach/nights"
	"halocue/internal/virtual"
)

func main() {
	first := flag.Uint64("first", 1, "seed of the first night")
	count := flag.Int("count", 1000, "how many nights")
	small := flag.Bool("small", false, "frames of 960x720 with 5 um pixels instead of 1280x960")
	pixel := flag.Float64("pixel-um", 5, "pixel size, micrometres")
	one := flag.Bool("night", false, "run the first night only and print it cue by cue")
	list := flag.Bool("list", false, "a line for each night")
	flag.Parse()

	o := nights.Options{Draw: virtual.Options{Width: 1280, Height: 960, Pixel: *pixel / 1000}}
	if *small {
		o.Draw.Width, o.Draw.Height = 960, 720
	}
	if err := run(*first, *count, *one, *list, o); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(first uint64, count int, one, list bool, o nights.Options) error {
	if one {
		return show(first, o)
	}
	rs, err := nights.RunAll(first, count, o)
	if err != nil {
		return err
	}
	for _, r := range rs {
		bad := r.False || (r.Result != coach.Aligned && r.Result != coach.AirLimit)
		if list || bad {
			fmt.Printf("night %d: %q error %.2f, %.0f s, %d turns, %d recentres, %d sides, false %v\n",
				r.Seed, r.Result, r.Error, r.Seconds, r.Turns, r.Recentres, r.Sides, r.False)
		}
	}
	return nights.Summarise(rs).Write(os.Stdout)
}

func show(seed uint64, o nights.Options) error {
	n := virtual.Draw(seed, o.Draw)
	fmt.Printf("D %.0f F/%.1f tol %.2f seeing %.1f drift %.4f mm/s locks %v backlash %.3f z %.1f R %.0f px xsec %.1f axis %.2f\n",
		n.Telescope.Aperture, n.Telescope.FocalRatio(), n.Telescope.Tolerance(), n.Sky.Seeing, n.Mount.Drift, n.Cell.Locks,
		n.Cell.Backlash, n.Z, n.RadiusPX(n.Z), n.XSec, n.Axis)
	r, err := nights.Run(seed, o, func(v virtual.View, tr virtual.Truth, a coach.Advice) {
		b := a.Belief
		for _, c := range a.Cues {
			fmt.Printf("%6.1f %-10s %-16s %-10s %-8s %.3f | true %5.2f,%5.2f est %5.2f,%5.2f sd %.2f bound %.2f side %s %.2f z %.1f star %5.2f,%5.2f | %s\n",
				v.T, a.Stage, c.Code, c.Knob, c.Direction, c.Turns, tr.Axis.X, tr.Axis.Y, b.Axis.X, b.Axis.Y,
				b.AxisSigma.X, b.Bound, b.Side, b.SideChance, tr.Z, b.Star.X, b.Star.Y, c.Reason)
		}
	})
	if err != nil {
		return err
	}
	fmt.Printf("%s error %.2f in %.0f s, %d turns, %d recentres\n", r.Result, r.Error, r.Seconds, r.Turns, r.Recentres)
	return nil
}
