package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image/png"
	"os"

	"github.com/spf13/cobra"

	"halocue/internal/measure"
	"halocue/vision/still"
)

// measureFlags are the flags of measure that are no settings.
type measureFlags struct {
	json            bool
	inside, outside string
	draw            string
}

func newMeasureCommand(a *app) *cobra.Command {
	var g measureFlags
	cmd := &cobra.Command{
		Use:   "measure [--inside FRAME --outside FRAME | FRAME...]",
		Short: "Measure the ring in still frames",
		Long: `Measures how far the shadow in a defocused star leans, and what that says of the
mirror. Several frames are looks at one pointing and are combined. One frame
inside focus and one outside tell the mirror's coma from a displaced secondary.`,
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, files []string) error { return a.measure(cmd, g, files) },
	}
	settingFlags(cmd, "telescope", "camera")
	f := cmd.Flags()
	f.BoolVar(&g.json, "json", false, "print JSON lines")
	f.StringVar(&g.inside, "inside", "", "`FRAME` taken inside focus")
	f.StringVar(&g.outside, "outside", "", "`FRAME` taken outside focus")
	f.StringVar(&g.draw, "draw", "", "PNG `FILE` to draw what was found in, over the frame")
	return cmd
}

func (a *app) measure(cmd *cobra.Command, g measureFlags, files []string) error {
	pair := g.inside != "" || g.outside != ""
	switch {
	case pair && (g.inside == "" || g.outside == ""):
		return usageError{fmt.Errorf("a pair needs both --inside FRAME and --outside FRAME")}
	case pair && len(files) > 0:
		return usageError{fmt.Errorf("%q: give either a pair or frames, not both", files[0])}
	case !pair && len(files) == 0:
		return usageError{fmt.Errorf("there is nothing to measure; name one frame or more")}
	}
	c, err := a.settings(cmd)
	if err != nil {
		return err
	}
	if err := c.Validate(); err != nil {
		return err
	}
	mm, assumed := c.Camera.Pixel()
	if assumed {
		mm = 0
	}
	job := measure.Job{Telescope: c.Optics(), PixelMM: mm, Read: still.ReadFile}
	out := json.NewEncoder(a.stdout)
	emit := func(l measure.Line) error {
		if g.json {
			return out.Encode(l)
		}
		_, err := fmt.Fprintln(a.stdout, l.Words())
		return err
	}
	var picture *measure.Picture
	if g.draw != "" {
		picture = measure.NewPicture(&job)
	}
	if pair {
		err = job.Pair(g.inside, g.outside, emit)
	} else {
		err = job.Frames(files, emit)
	}
	if err != nil || picture == nil {
		return err
	}
	return drawPNG(g.draw, picture)
}

// drawPNG writes a picture to a file.
func drawPNG(path string, p *measure.Picture) error {
	img, err := p.Draw()
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		return fmt.Errorf("drawing %s: %w", path, err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		return fmt.Errorf("drawing: %w; name a file in a folder that can be written to", err)
	}
	return nil
}
