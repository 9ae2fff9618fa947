package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image/png"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"halocue/internal/measure"
	"halocue/internal/run/parts"
	"halocue/vision/frame"
	"halocue/vision/still"
)

// measureFlags are the flags of measure that are no settings.
type measureFlags struct {
	json            bool
	inside, outside []string
	draw            string
}

func newMeasureCommand(a *app) *cobra.Command {
	var g measureFlags
	cmd := &cobra.Command{
		Use:   "measure [--inside FRAME --outside FRAME | FRAME...]",
		Short: "Measure the ring in still frames",
		Long: `Measures how far the shadow in a defocused star leans, and what that says of the
mirror. Several frames, or a folder of them, are looks at one pointing and are
combined; where their rings are of different sizes, that tells the mirror's coma
from a displaced secondary. So do, more surely, frames from inside and from
outside focus. The last line says what that comes to, what it leaves open, and what
to do next. What else the ring shows is remarked: astigmatism, spherical
aberration, the spider's vanes, and from eight frames on the air.`,
		Example: "halocue measure --aperture-mm 200 --focal-length-mm 1000 star.png\nhalocue measure --profile dobson --inside in.png --outside out.png --json",
		Args:    cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, files []string) error {
			return orCancelled(cmd.Context(), func() error { return a.measure(cmd, g, files) })
		},
	}
	settingFlags(cmd, "telescope", "camera")
	oneSetting(cmd, "voice.language")
	f := cmd.Flags()
	f.BoolVar(&g.json, "json", false, "print JSON lines")
	f.StringArrayVar(&g.inside, "inside", nil, "`FRAME` taken inside focus, or a folder of them; may be given again")
	f.StringArrayVar(&g.outside, "outside", nil, "`FRAME` taken outside focus, or a folder of them; may be given again")
	f.StringVar(&g.draw, "draw", "", "`FILE` to draw what was found in, a PNG, over the frame")
	return cmd
}

func (a *app) measure(cmd *cobra.Command, g measureFlags, files []string) error {
	pair := len(g.inside)+len(g.outside) > 0
	switch {
	case pair && (len(g.inside) == 0 || len(g.outside) == 0):
		return usageError{fmt.Errorf("a pair needs both --inside FRAME and --outside FRAME")}
	case pair && len(files) > 0:
		return usageError{fmt.Errorf("%q: give either a pair or frames, not both", files[0])}
	case !pair && len(files) == 0:
		return usageError{fmt.Errorf("there is nothing to measure; name one frame or more")}
	}
	for _, list := range []*[]string{&files, &g.inside, &g.outside} {
		var err error
		if *list, err = still.Files(*list); err != nil {
			return err
		}
	}
	c, err := a.validSettings(cmd)
	if err != nil {
		return err
	}
	say, english, err := parts.Sentences(c.Voice)
	if err != nil {
		return err
	}
	job, reader := parts.Measuring(c), &still.Reader{}
	job.English = english
	job.Read = func(path string) (*frame.Frame, error) {
		if err := cmd.Context().Err(); err != nil {
			return nil, fmt.Errorf("measuring: %w", err)
		}
		f := &frame.Frame{}
		return f, reader.ReadInto(f, path)
	}
	out := json.NewEncoder(a.Stdout)
	var last measure.Line
	emit := func(l measure.Line) error {
		if last = l; g.json {
			return out.Encode(l)
		}
		_, err := fmt.Fprintln(a.Stdout, l.Words(say))
		return err
	}
	var picture *measure.Picture
	if g.draw != "" {
		picture = measure.NewPicture(&job, english)
	}
	if pair {
		err = job.Pair(g.inside, g.outside, emit)
	} else {
		err = job.Frames(files, emit)
	}
	if err == nil && !g.json {
		frames := len(files)
		if pair {
			frames = min(len(g.inside), len(g.outside))
		}
		_, err = fmt.Fprintln(a.Stdout, strings.Join(job.Verdict(say, last, frames), " "))
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
